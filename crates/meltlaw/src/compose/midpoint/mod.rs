//! Settings by the midpoint rule: mean pulse current of the trials, middle of the one-drop window, target drop; at
//! a limit the drop size gives way first, then the pulse current, then the place in the window (`settings`). Each
//! step asks whether a pulse leaves room for a frequency (`room`); feeds at which the settings would turn back or
//! jump are refused (`steadiness`).

mod course;
mod room;
mod search;
mod settings;
mod steadiness;
mod window;

pub(super) use settings::Rule;
use steadiness::refuse_turns_and_jumps;
pub(super) use window::Window;
