//! Foreign readers that may panic on damaged files, run so that the panic becomes a value and prints
//! nothing.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Once;

thread_local! {
    static QUIET: Cell<bool> = const { Cell::new(false) };
}

/// What the work gives, or nothing where it panicked. Panics of all other work print as before.
pub(crate) fn quietly<T>(work: impl FnOnce() -> T) -> Option<T> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let before = take_hook();
        set_hook(Box::new(move |panic| {
            if !QUIET.get() {
                before(panic);
            }
        }));
    });
    let outer = QUIET.replace(true);
    // What the work leaves half done is dropped with it: nothing outside sees it.
    let done = catch_unwind(AssertUnwindSafe(work));
    QUIET.set(outer);
    done.ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_nothing_and_a_result_is_itself() {
        assert_eq!(quietly(|| 7), Some(7));
        let nothing: Option<()> = quietly(|| std::panic::resume_unwind(Box::new("a foreign panic")));
        assert_eq!(nothing, None);
        assert!(!QUIET.get());
    }
}
