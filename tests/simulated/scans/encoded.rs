//! Files of strips of known densities, written through each encoding by outside encoders: nothing of the program makes them.
//!
//! Light of a step is 10^-D; grain is normal in density, the scanner's noise normal in light, and stray light adds to every
//! pixel. All ranges are *common practice, no source*.

use std::path::{Path, PathBuf};

use twinwedge_core::numeric::random::Stream;

/// How light becomes codes.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum Law {
    Linear,
    Srgb,
    Power(f64),
    /// Density from that of code 0 to that of the highest code.
    Density(f64, f64),
}

impl Law {
    pub(crate) const ALL: [Self; 6] = [
        Self::Linear,
        Self::Srgb,
        Self::Power(1.8),
        Self::Power(2.2),
        Self::Density(0.0, 4.0),
        Self::Density(3.6, 0.0),
    ];

    /// The code of light, as a share of the highest: IEC 61966-2-1:1999 for sRGB, the definitions for the others.
    pub(crate) fn code(self, light: f64) -> f64 {
        let code = match self {
            Self::Linear => light,
            Self::Srgb if light <= 0.003_130_8 => 12.92 * light,
            Self::Srgb => 1.055 * light.powf(1.0 / 2.4) - 0.055,
            Self::Power(exponent) => light.powf(1.0 / exponent),
            Self::Density(first, last) => (-light.log10() - first) / (last - first),
        };
        code.clamp(0.0, 1.0)
    }

    /// As options write it.
    pub(crate) fn key(self) -> String {
        match self {
            Self::Linear => "linear".to_owned(),
            Self::Srgb => "srgb".to_owned(),
            Self::Power(exponent) => format!("power:{exponent}"),
            Self::Density(first, last) => format!("density:{first}..{last}"),
        }
    }
}

/// What is seen of a strip.
pub(crate) struct Picture {
    pub(crate) width: usize,
    pub(crate) height: usize,
    /// Light of each pixel.
    pub(crate) light: Vec<f64>,
    /// Corners of the steps: along them from the first to the last, then back.
    pub(crate) corners: [(f64, f64); 4],
}

/// Pixels of a step along the strip and across, and of the ground around.
const STEP: (usize, usize) = (26, 60);
const GROUND: usize = 20;

/// Steps of these densities side by side, on a ground of light. Grain and the scanner's noise are drawn anew for each pixel.
pub(crate) fn strip(densities: &[f64], grain: f64, noise: f64, stray: f64, chance: &mut Stream) -> Picture {
    let (width, height) = (densities.len() * STEP.0 + 2 * GROUND, STEP.1 + 2 * GROUND);
    let mut light = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let inside = (GROUND..width - GROUND).contains(&x) && (GROUND..height - GROUND).contains(&y);
            let density = if inside {
                let density = densities[(x - GROUND) / STEP.0];
                density + grain * density.max(0.05).sqrt() * chance.normal()
            } else {
                0.0
            };
            // Open light is a little below the highest code, as a scanner that does not clip has it.
            let seen = 0.97 * 10.0_f64.powf(-density) + stray + noise * chance.normal();
            light.push(seen.clamp(1e-6, 1.0));
        }
    }
    let (left, top, right, bottom) =
        (GROUND as f64, GROUND as f64, (width - GROUND) as f64, (height - GROUND) as f64);
    Picture { width, height, light, corners: [(left, top), (right, top), (right, bottom), (left, bottom)] }
}

/// Density that the open light of [`strip`] has against the highest code.
pub(crate) const WHITE: f64 = 0.013_228_265_733_755_155;

impl Picture {
    pub(crate) fn codes(&self, law: Law, most: f64) -> Vec<u16> {
        self.light.iter().map(|light| (law.code(*light) * most).round() as u16).collect()
    }

    /// Corners as options write them.
    #[allow(dead_code, reason = "for the tests of the verbs")]
    pub(crate) fn corners_text(&self) -> String {
        self.corners.map(|(x, y)| format!("{x},{y}")).join(" ")
    }

    /// A TIFF of 8 or 16 bits that says nothing of its codes.
    pub(crate) fn tiff(&self, folder: &Path, name: &str, law: Law, bits: u32) -> PathBuf {
        let path = folder.join(name);
        let file = std::fs::File::create(&path).expect("a file");
        let mut encoder = tiff::encoder::TiffEncoder::new(file).expect("an encoder");
        let size = (self.width as u32, self.height as u32);
        if bits == 8 {
            let codes: Vec<u8> = self.codes(law, 255.0).iter().map(|code| *code as u8).collect();
            encoder.write_image::<tiff::encoder::colortype::Gray8>(size.0, size.1, &codes).expect("written");
        } else {
            let codes = self.codes(law, 65_535.0);
            encoder.write_image::<tiff::encoder::colortype::Gray16>(size.0, size.1, &codes).expect("written");
        }
        path
    }

    /// A TIFF of floating point samples: codes of 16 bits as shares of the highest.
    pub(crate) fn float_copy(&self, folder: &Path, name: &str, law: Law) -> PathBuf {
        let path = folder.join(name);
        let file = std::fs::File::create(&path).expect("a file");
        let mut encoder = tiff::encoder::TiffEncoder::new(file).expect("an encoder");
        let values: Vec<f32> =
            self.codes(law, 65_535.0).iter().map(|code| f32::from(*code) / 65_535.0).collect();
        encoder
            .write_image::<tiff::encoder::colortype::Gray32Float>(
                self.width as u32,
                self.height as u32,
                &values,
            )
            .expect("written");
        path
    }

    /// A PNG of 8 or 16 bits; `say` may add chunks that speak of its codes.
    pub(crate) fn png(
        &self,
        folder: &Path,
        name: &str,
        (law, bits): (Law, u32),
        say: impl Fn(&mut png::Encoder<'_, std::io::BufWriter<std::fs::File>>),
    ) -> PathBuf {
        let path = folder.join(name);
        let file = std::io::BufWriter::new(std::fs::File::create(&path).expect("a file"));
        let mut encoder = png::Encoder::new(file, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Grayscale);
        encoder.set_depth(if bits == 8 { png::BitDepth::Eight } else { png::BitDepth::Sixteen });
        say(&mut encoder);
        let bytes: Vec<u8> = if bits == 8 {
            self.codes(law, 255.0).iter().map(|code| *code as u8).collect()
        } else {
            self.codes(law, 65_535.0).iter().flat_map(|code| code.to_be_bytes()).collect()
        };
        let mut writer = encoder.write_header().expect("a header");
        writer.write_image_data(&bytes).expect("written");
        writer.finish().expect("finished");
        path
    }
}

/// Densities of a film exposed through a tablet of these: a logistic toe and shoulder about a straight line.
pub(crate) fn film(tablet: &[f64], chance: &mut Stream) -> Vec<f64> {
    let between = |chance: &mut Stream, low: f64, high: f64| low + (high - low) * chance.uniform();
    let base = between(chance, 0.04, 0.40);
    let most = between(chance, 1.0, 2.8);
    let slope = between(chance, 0.40, 1.10);
    let middle = tablet[tablet.len() - 1] * between(chance, 0.3, 0.7);
    tablet
        .iter()
        .map(|density| base + most / (1.0 + (-4.0 * slope * (middle - density) / most).exp()))
        .collect()
}

/// Densities of a tablet of the trade: 0.05, then so many steps of 0.15, each a little off.
pub(crate) fn tablet(steps: usize, chance: &mut Stream) -> Vec<f64> {
    (0..steps).map(|step| 0.05 + 0.15 * step as f64 + 0.005 * chance.normal()).collect()
}
