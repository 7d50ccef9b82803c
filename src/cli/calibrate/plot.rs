//! Residuals of a fit as a picture.

use std::path::Path;

use crate::calibrate::Point;
use crate::cli::exit::{Code, Failure};
use crate::graph::{ResidualPicture, Style, png, residual_svg};

/// Places at which the band is drawn.
const PLACES: u32 = 60;

/// One channel's residuals.
pub(super) struct Residuals {
    title: String,
    points: Vec<(f64, f64)>,
    band: Vec<(f64, f64)>,
}

/// What is drawn of a channel: residual at each point, and two standard uncertainties of the fit.
pub(super) fn residuals(
    title: String,
    points: &[Point],
    residuals: &[f64],
    u_at: &impl Fn(f64) -> f64,
) -> Residuals {
    let at: Vec<f64> = points.iter().map(|p| p.reference_degc).collect();
    let low = at.iter().copied().fold(f64::INFINITY, f64::min);
    let high = at.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let place = |k: u32| low + (high - low) * f64::from(k) / f64::from(PLACES);
    Residuals {
        title,
        points: at.into_iter().zip(residuals.iter().copied()).collect(),
        band: (0..=PLACES)
            .map(place)
            .map(|t| (t, 2.0 * u_at(t)))
            .collect(),
    }
}

/// Writes a picture for each channel; of several the channel stands in the file's name.
///
/// # Errors
/// [`Failure`] if it cannot be drawn or written.
pub(super) fn write(file: &Path, all: &[(usize, Residuals)]) -> Result<(), Failure> {
    for (channel, one) in all {
        let path = if all.len() == 1 {
            file.to_owned()
        } else {
            let stem = file.file_stem().unwrap_or_default().to_string_lossy();
            let ending = file.extension().unwrap_or_default().to_string_lossy();
            file.with_file_name(format!("{stem}-{}.{ending}", channel + 1))
        };
        let picture = ResidualPicture {
            title: format!("Calibration of {}: residuals", one.title).into(),
            points: one.points.clone(),
            band: one.band.clone(),
            residual: "Residual".into(),
            meaning: "shaded: expanded uncertainty of the fit (coverage factor 2)".into(),
        };
        let svg = residual_svg(&picture, &Style::page());
        let failed = |why: String| {
            Failure::new(
                Code::Failed,
                format!("{} cannot be written: {why}", path.display()),
            )
            .advise("Choose another file with --plot. Nothing was kept.")
        };
        let bytes = if path
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("png"))
        {
            png(&svg, 2.0).map_err(|e| failed(e.to_string()))?
        } else {
            svg.into_bytes()
        };
        std::fs::write(&path, bytes).map_err(|e| failed(e.to_string()))?;
    }
    Ok(())
}
