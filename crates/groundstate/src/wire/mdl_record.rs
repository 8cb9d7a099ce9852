//! The record of a method detection limit as a document.

use super::v1::MdlRecordForm;
use super::{Document, Layout, header, value_in};
use crate::detection::mdl::MdlRecord;
use crate::document::{Form, nothing_unknown, value_of, wrong};
use crate::error::Error;

impl MdlRecord {
    /// The record as a JSON document, from which anybody can compute the limit again.
    pub fn to_json(&self, layout: Layout) -> String {
        layout.write(&MdlRecordForm::of(self, &Document::MdlRecord.schema()))
    }

    /// The record in a JSON document. Its limit is computed again from the stored results and choices; a document that
    /// the same version of the library wrote has to say exactly what that gives.
    ///
    /// ```
    /// use groundstate::detection::mdl::{self, MdlOptions, MdlRecord, MdlRecordHeader, MdlResult};
    /// use groundstate::wire::Layout;
    /// let mut results: Vec<MdlResult> =
    ///     [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194].map(|x| MdlResult::spike(x).level(0.02)).into();
    /// results.extend([0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002].map(MdlResult::blank));
    /// let limit = mdl::initial(&results, &MdlOptions::default())?;
    /// let record = MdlRecord::new(MdlRecordHeader::default(), &results, limit);
    /// let text = record.to_json(Layout::Compact);
    /// assert_eq!(MdlRecord::from_json(&text)?, record);
    /// assert!(MdlRecord::from_json(&text.replace("0.0212", "0.0213")).is_err());
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Kind::Wire`](crate::Kind::Wire): text that is not JSON, another document, a newer major version, members that are
    /// missing or unknown, results that cannot be meant, figures that do not follow from them.
    pub fn from_json(text: &str) -> Result<MdlRecord, Error> {
        let header = header(text)?;
        header.expect(Document::MdlRecord)?;
        let value = value_in(text)?;
        let form = MdlRecordForm::read(&value).map_err(|unread| unread.error("record"))?;
        if !header.is_newer() {
            nothing_unknown(&value, &form, "record")?;
        }
        let record = form.record()?;
        let again = MdlRecordForm::of(&record, &form.schema);
        if form.library == again.library && value_of(&again) != value_of(&form) {
            let shown = |form: &MdlRecordForm| {
                form.mdl.value.map_or_else(|| "no limit".to_owned(), |limit| format!("{:?}", limit.0))
            };
            let what = format!(
                "the figures do not follow from the results and choices: {} is stored, {} follows",
                shown(&form),
                shown(&again)
            );
            return Err(wrong("mdl", what).help("was the document changed?"));
        }
        Ok(record)
    }
}
