//! A method as outcomes hold it.

use std::ops::Deref;
#[cfg(feature = "serde")]
use std::sync::Arc;

#[cfg(feature = "serde")]
use super::provenance::MethodDigests;
use crate::method::Method;

/// A method, with what every outcome by it says alike.
#[derive(Debug)]
pub(crate) struct Used {
    method: Method,
    /// The method as a document.
    #[cfg(feature = "serde")]
    pub document: Arc<serde_json::Value>,
    #[cfg(feature = "serde")]
    pub digests: MethodDigests,
}

impl Used {
    /// `method` to be used.
    pub fn new(method: Method) -> Self {
        #[cfg(feature = "serde")]
        let document = method.to_document();
        Used {
            method,
            #[cfg(feature = "serde")]
            digests: MethodDigests::of(&document),
            #[cfg(feature = "serde")]
            document: Arc::new(document),
        }
    }
}

impl Deref for Used {
    type Target = Method;

    fn deref(&self) -> &Method {
        &self.method
    }
}
