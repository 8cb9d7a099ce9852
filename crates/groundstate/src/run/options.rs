//! How a table is read.

use crate::method::{AliasPolicy, Method, MissingPolicy, SignalKind};

/// How a table is read; a method says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReadOptions {
    /// What to do with missing readings.
    pub missing: MissingPolicy,
    /// Whether other programmes' names of roles are read.
    pub aliases: AliasPolicy,
    /// What the readings are. Unless they are absorbances, their column may be called `signal`.
    pub signal: SignalKind,
}

impl Default for ReadOptions {
    fn default() -> Self {
        ReadOptions { missing: MissingPolicy::Skip, aliases: AliasPolicy::Refuse, signal: SignalKind::Absorbance }
    }
}

impl From<&Method> for ReadOptions {
    fn from(method: &Method) -> Self {
        ReadOptions { missing: method.missing, aliases: method.aliases, signal: method.signal_kind }
    }
}
