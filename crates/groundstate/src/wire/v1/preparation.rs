//! The way from a sample to its solution on the wire.

use crate::document::{DofForm, Word, at, form, wrong};
use crate::error::Error;
use crate::estimate::Dof;
use crate::glassware::{Dilution, DilutionStep, Measured};
use crate::preparation::{Description, Factor, Portion, Preparation, ReportBasis, Solids, Weighed};

form! {
    /// The way from a sample to the solution that was measured.
    PreparationForm {
        /// By what the content of the solution is multiplied; it follows from the rest.
        multiplier: f64,
        mass_g: Option<MeasuredForm>,
        volume_ml: Option<MeasuredForm>,
        final_volume_ml: Option<MeasuredForm>,
        /// The steps of the dilution, in the order they were made; none where it was not diluted.
        dilution: Vec<StepForm>,
        /// Fraction of dry matter.
        solids_fraction: Option<MeasuredForm>,
        /// Drying temperature in degrees Celsius.
        dried_at: Option<f64>,
        weighed: Option<Word<Weighed>>,
        report: Option<Word<ReportBasis>>,
        /// Further factors.
        extra: Vec<FactorForm>,
    }

    /// A measured quantity.
    MeasuredForm {
        value: f64,
        /// Of what it was measured with: shared by all who name the item.
        standard_uncertainty: f64,
        degrees_of_freedom: DofForm,
        /// Standard deviation that each use brings anew.
        repeatability: Option<f64>,
        repeatability_degrees_of_freedom: Option<DofForm>,
        item: Option<String>,
    }

    /// One step of a dilution: a bare factor, or an aliquot made up to a flask, in mL.
    StepForm {
        factor: Option<MeasuredForm>,
        aliquot_ml: Option<MeasuredForm>,
        flask_ml: Option<MeasuredForm>,
    }

    /// A further factor that the result is multiplied by.
    FactorForm {
        name: Option<String>,
        factor: MeasuredForm,
    }
}

impl MeasuredForm {
    fn of(measured: &Measured) -> Self {
        let (u, dof, repeatability, repeatability_dof) = measured.parts();
        MeasuredForm {
            value: measured.value(),
            standard_uncertainty: u,
            degrees_of_freedom: DofForm(dof),
            repeatability: (repeatability > 0.0).then_some(repeatability),
            repeatability_degrees_of_freedom: (repeatability_dof != Dof::INFINITE)
                .then_some(DofForm(repeatability_dof)),
            item: measured.item().map(str::to_owned),
        }
    }

    fn measured(&self, name: &str) -> Result<Measured, Error> {
        let mut measured = Measured::new(name, self.value, self.standard_uncertainty)?;
        measured = measured.with_dof(self.degrees_of_freedom.0)?;
        if let Some(repeatability) = self.repeatability {
            measured = measured.with_repeatability(repeatability)?;
        }
        if let Some(dof) = self.repeatability_degrees_of_freedom {
            measured = measured.with_repeatability_dof(dof.0)?;
        }
        match &self.item {
            Some(item) => measured.with_item(item),
            None => Ok(measured),
        }
    }
}

impl StepForm {
    fn of(step: &DilutionStep) -> Self {
        let volumes = step.aliquot_and_flask();
        StepForm {
            factor: step.bare_factor().map(MeasuredForm::of),
            aliquot_ml: volumes.map(|(aliquot, _)| MeasuredForm::of(aliquot)),
            flask_ml: volumes.map(|(_, flask)| MeasuredForm::of(flask)),
        }
    }

    fn step(&self) -> Result<DilutionStep, Error> {
        match (&self.factor, &self.aliquot_ml, &self.flask_ml) {
            (Some(factor), None, None) => DilutionStep::factor(factor.measured("dilution")?),
            (None, Some(aliquot), Some(flask)) => {
                DilutionStep::volumes(aliquot.measured("dilution")?, flask.measured("dilution")?)
            }
            _ => Err(wrong("dilution", "a step is either a factor, or an aliquot and a flask")),
        }
    }
}

impl PreparationForm {
    pub fn of(preparation: &Preparation) -> Self {
        let description = preparation.description();
        let (mass, volume) = match &description.portion {
            Some(Portion::Mass(mass)) => (Some(MeasuredForm::of(mass)), None),
            Some(Portion::Volume(volume)) => (None, Some(MeasuredForm::of(volume))),
            None => (None, None),
        };
        PreparationForm {
            multiplier: preparation.multiplier(),
            mass_g: mass,
            volume_ml: volume,
            final_volume_ml: description.final_volume.as_ref().map(MeasuredForm::of),
            dilution: description.dilution.steps().iter().map(StepForm::of).collect(),
            solids_fraction: description.solids.as_ref().map(|solids| MeasuredForm::of(solids.fraction())),
            dried_at: description.solids.as_ref().and_then(Solids::dried_at),
            weighed: description.weighed.map(Word),
            report: description.report.map(Word),
            extra: (description.extra.iter())
                .map(|factor| FactorForm {
                    name: factor.name.as_deref().map(str::to_owned),
                    factor: MeasuredForm::of(&factor.measured),
                })
                .collect(),
        }
    }

    pub fn preparation(&self, path: &str) -> Result<Preparation, Error> {
        self.described().and_then(Preparation::new).map_err(|error| at(path, &error))
    }

    fn described(&self) -> Result<Description, Error> {
        let measured =
            |name: &str, form: &Option<MeasuredForm>| form.as_ref().map(|form| form.measured(name)).transpose();
        let solids = match measured("solids_fraction", &self.solids_fraction)? {
            None => None,
            Some(fraction) => {
                let solids = Solids::fraction_of(fraction)?;
                Some(match self.dried_at {
                    Some(celsius) => solids.at_temperature(celsius)?,
                    None => solids,
                })
            }
        };
        let steps: Result<Vec<DilutionStep>, Error> = self.dilution.iter().map(StepForm::step).collect();
        let extra = self.extra.iter().map(|form| {
            let measured = form.factor.measured("extra")?;
            Ok(Factor { name: form.name.as_deref().map(Into::into), measured })
        });
        Ok(Description {
            portion: Portion::of(measured("mass_g", &self.mass_g)?, measured("volume_ml", &self.volume_ml)?)?,
            final_volume: measured("final_volume_ml", &self.final_volume_ml)?,
            dilution: Dilution::chain(steps?)?,
            solids,
            weighed: self.weighed.map(|word| word.0),
            report: self.report.map(|word| word.0),
            extra: extra.collect::<Result<Vec<Factor>, Error>>()?,
        })
    }
}
