//! Words and numbers that leave the program in files, firmware and PLC exports. Never reused.

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal, $code:literal;)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$vdoc])* $variant,)+ }
        impl $name {
            /// All, in the order of their codes.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// The word in files.
            pub const fn word(self) -> &'static str { match self { $(Self::$variant => $word),+ } }
            /// The number in firmware and PLC exports.
            pub const fn code(self) -> u8 { match self { $(Self::$variant => $code),+ } }
            /// From the word in files.
            pub fn from_word(word: &str) -> Option<Self> { match word { $($word => Some(Self::$variant),)+ _ => None } }
        }
    };
}

words! {
    /// Answer of an evaluation. On any status but `Ok` no setting is written. `Withdrawn` goes before `Contradicted`,
    /// both go before `UnsupportedGap`.
    Status {
        /// A setting was given.
        Ok = "ok", 0;
        /// Below the first node.
        BelowRange = "below_range", 1;
        /// Above the last node.
        AboveRange = "above_range", 2;
        /// Inside the range, in a gap without support.
        UnsupportedGap = "unsupported_gap", 3;
        /// The wire feed is not a number.
        NotANumber = "not_a_number", 4;
        /// The line was withdrawn at this feed.
        Withdrawn = "withdrawn", 5;
        /// Confirmation welds contradict the line at this feed.
        Contradicted = "contradicted", 6;
    }
}

words! {
    /// How well the trials support a setting, strongest first. Code 0 in exports means that there is no setting.
    Support {
        /// Inside the ranges of the trials; nobody need have welded this very setting.
        Covered = "covered", 1;
        /// A little beyond the ranges of the trials.
        Extended = "extended", 2;
        /// From laws that were carried to a wire, gas or distance that nobody welded.
        Carried = "carried", 3;
    }
}

words! {
    /// What confirmation welds said of a range of the line. Code 0 in exports means that nothing there has a standing.
    Standing {
        /// No confirmation weld yet.
        Proposed = "proposed", 1;
        /// Confirmation welds agree.
        Confirmed = "confirmed", 2;
        /// Confirmation welds disagree.
        Contradicted = "contradicted", 3;
        /// Taken back.
        Withdrawn = "withdrawn", 4;
    }
}

impl Standing {
    /// Rank of caution: where ranges meet or overlap, the standing of the highest rank holds.
    pub const fn caution(self) -> u8 {
        match self {
            Self::Confirmed => 0,
            Self::Proposed => 1,
            Self::Contradicted => 2,
            Self::Withdrawn => 3,
        }
    }

    /// The status of a feed that this standing leaves without a setting; `None` where the line may be used.
    pub const fn refuses(self) -> Option<Status> {
        match self {
            Self::Contradicted => Some(Status::Contradicted),
            Self::Withdrawn => Some(Status::Withdrawn),
            Self::Confirmed | Self::Proposed => None,
        }
    }
}

words! {
    /// What can bind a setting or end a line.
    Limit {
        /// Mean or pulse current at the source's lower limit.
        CurrentLow = "current_low", 1;
        /// Mean or pulse current at the source's upper limit.
        CurrentHigh = "current_high", 2;
        /// Background current at its lower limit.
        BackgroundLow = "background_low", 3;
        /// Background current at its upper limit.
        BackgroundHigh = "background_high", 4;
        /// Pulse time at its lower limit.
        PulseTimeLow = "pulse_time_low", 5;
        /// Pulse time at its upper limit.
        PulseTimeHigh = "pulse_time_high", 6;
        /// Pulse frequency at its lower limit.
        FrequencyLow = "frequency_low", 7;
        /// Pulse frequency at its upper limit.
        FrequencyHigh = "frequency_high", 8;
        /// Pulse time times frequency at its lower limit.
        PulseDutyLow = "pulse_duty_low", 9;
        /// Pulse time times frequency at its upper limit.
        PulseDutyHigh = "pulse_duty_high", 10;
        /// The slopes leave no room for the trapezoid.
        Slopes = "slopes", 11;
        /// Drop at the small end of its limits.
        DropSmall = "drop_small", 12;
        /// Drop at the large end of its limits.
        DropLarge = "drop_large", 13;
        /// The one-drop probability is under its floor.
        OneDropLow = "one_drop_low", 14;
        /// The melting rate is not known well enough.
        MeltingRateUncertain = "melting_rate_uncertain", 15;
        /// Below the ranges of the trials.
        DataLow = "data_low", 16;
        /// Above the ranges of the trials.
        DataHigh = "data_high", 17;
        /// A law that the line needs could not be fitted.
        LawMissing = "law_missing", 18;
    }
}
