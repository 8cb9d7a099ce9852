//! How a method has tables read.

/// Defines a closed list of words of a method file: stable names, parsing with the nearest name.
macro_rules! words {
    ($(#[$doc:meta])* $kind:ident, $key:literal: $($(#[$each:meta])* $variant:ident = $name:literal),+ $(,)?) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum $kind { $($(#[$each])* $variant,)+ }

        $crate::preparation::words::words!($kind, $key: $($variant = $name),+);
    };
}
pub(super) use words;

words! {
    /// What to do with a reading that is missing: empty, null, NaN or NA.
    MissingPolicy, "missing":
    /// Leave it out, count it, and say so in a finding.
    Skip = "skip",
    /// Refuse the table.
    Refuse = "refuse",
}

words! {
    /// Whether other programmes' names of roles are read.
    AliasPolicy, "aliases":
    /// Only the roles' own names.
    Refuse = "refuse",
    /// The names in [`run::ALIASES`](crate::run::ALIASES) too.
    Accept = "accept",
}

words! {
    /// What the readings are.
    SignalKind, "signal_kind":
    /// Absorbance of a flame.
    Absorbance = "absorbance",
    /// Emission of a flame (sodium, potassium, lithium). Rules that speak of absorbance do not apply.
    Emission = "emission",
    /// Another signal, such as that of a cold vapour or furnace; not supported beyond calibration and preparation.
    Other = "other",
}
