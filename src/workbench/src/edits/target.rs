//! What is known of the target's colours: the light on it, and the spectra of its patches.

use twinwedge_core::document::{EnteredSpectrum, Series, SubjectLight};
use twinwedge_core::problem::{Problem, Subject};

use super::{Change, refused};

/// A change of what is known of the target.
#[derive(Debug, Clone, PartialEq)]
pub enum TargetEdit {
    /// The light that fell on it; none where it is not known.
    Light(Option<SubjectLight>),
    /// Standard uncertainty of the known densities and reflectances of its patches.
    KnownUncertainty(f64),
    /// Reflectances of patches by their names. Where none is named, and there are as many as patches, they are those of the
    /// patches in their order.
    Reflectances(Vec<(String, EnteredSpectrum)>),
    /// Reflectances of all patches are taken out.
    NoReflectances,
}

impl Change for TargetEdit {
    fn label(&self, _: &Series) -> String {
        match self {
            Self::Light(Some(light)) => format!("say that {} fell on the target", light.words()),
            Self::Light(None) => "leave the light on the target open".to_owned(),
            Self::KnownUncertainty(_) => "set the uncertainty of known patches".to_owned(),
            Self::Reflectances(_) => "take in the reflectances of patches".to_owned(),
            Self::NoReflectances => "take out the reflectances of patches".to_owned(),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Light(light) => series.target.light = light,
            Self::KnownUncertainty(u) => series.target.known_u = u,
            Self::Reflectances(spectra) => reflectances(series, spectra)?,
            Self::NoReflectances => {
                for patch in series.layout.iter_mut().flat_map(|layout| &mut layout.patches) {
                    patch.reflectance = None;
                }
            }
        }
        Ok(())
    }
}

fn reflectances(series: &mut Series, spectra: Vec<(String, EnteredSpectrum)>) -> Result<(), Problem> {
    let no_layout = || {
        refused(
            Subject::Series,
            "The series has no patch layout.",
            "Lay a patch grid first, on the Prints page.",
        )
    };
    let layout = series.layout.as_mut().ok_or_else(no_layout)?;
    let plain = |name: &str| name.trim().to_lowercase();
    let in_order = spectra.len() == layout.patches.len()
        && spectra
            .iter()
            .all(|(name, _)| layout.patches.iter().all(|patch| plain(&patch.name) != plain(name)));
    let mut fitting = 0;
    for (number, (name, spectrum)) in spectra.into_iter().enumerate() {
        let patch = if in_order {
            layout.patches.get_mut(number)
        } else {
            layout.patches.iter_mut().find(|patch| plain(&patch.name) == plain(&name))
        };
        if let Some(patch) = patch {
            patch.reflectance = Some(spectrum);
            fitting += 1;
        }
    }
    if fitting == 0 {
        let remedy = "Call the spectra in the file as the patches are called, or give one for each patch, in their order.";
        return Err(refused(Subject::Series, "No spectrum of the file is called like a patch.", remedy));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use twinwedge_core::patch::default_layout;

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn flat(value: f64) -> EnteredSpectrum {
        EnteredSpectrum { from_nm: 400.0, step_nm: 10.0, values: vec![value; 31] }
    }

    fn laid() -> Series {
        Series { layout: Some(default_layout()), ..two_films() }
    }

    #[test]
    fn the_light_is_said_and_left_open() {
        let light = SubjectLight::Daylight(5_500.0);
        let (after, label) = done(&laid(), TargetEdit::Light(Some(light.clone()))).unwrap();
        assert_eq!(
            (after.target.light, label.as_str()),
            (Some(light), "say that daylight of 5500 K fell on the target")
        );
        let (after, _) = done(&laid(), TargetEdit::KnownUncertainty(0.02)).unwrap();
        assert!((after.target.known_u - 0.02).abs() < 1e-12);
        for light in [
            SubjectLight::Daylight(3_000.0),
            SubjectLight::Incandescent(f64::NAN),
            SubjectLight::Measured(flat(0.0)),
            SubjectLight::Measured(EnteredSpectrum { step_nm: 60.0, ..flat(1.0) }),
            SubjectLight::Measured(EnteredSpectrum { values: Vec::new(), ..flat(1.0) }),
        ] {
            assert!(done(&laid(), TargetEdit::Light(Some(light.clone()))).is_err(), "{light:?}");
        }
    }

    #[test]
    fn reflectances_go_to_the_patches_that_they_name() {
        let take = |spectra| TargetEdit::Reflectances(spectra);
        let (after, _) = done(&laid(), take(vec![(" Brick".to_owned(), flat(0.2))])).unwrap();
        let of = |series: &Series| series.layout.as_ref().unwrap().patches[1].reflectance.clone();
        assert_eq!(of(&after), Some(flat(0.2)));
        assert_eq!(done(&after, TargetEdit::NoReflectances).unwrap().0, laid());
        let all = (0..24).map(|number| (String::new(), flat(f64::from(number) / 30.0))).collect();
        let (after, _) = done(&laid(), take(all)).unwrap();
        assert_eq!(of(&after), Some(flat(1.0 / 30.0)));
        assert!(cause(&laid(), take(vec![("sky".to_owned(), flat(0.2))])).contains("called like a patch"));
        assert!(cause(&laid(), take(vec![("brick".to_owned(), flat(2.0))])).contains("out of range"));
        assert!(cause(&two_films(), take(Vec::new())).contains("no patch layout"));
    }
}
