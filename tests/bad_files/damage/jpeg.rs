//! JPEG files of every kind, and their parts.

use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

/// How a file is made.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Form {
    pub(crate) name: &'static str,
    pub(crate) size: (u16, u16),
    pub(crate) colour: bool,
    pub(crate) sampling: SamplingFactor,
    pub(crate) progressive: bool,
    pub(crate) restart: u16,
    pub(crate) optimised: bool,
}

const PLAIN: Form = Form {
    name: "grey",
    size: (136, 104),
    colour: false,
    sampling: SamplingFactor::F_1_1,
    progressive: false,
    restart: 0,
    optimised: false,
};
pub(crate) const COLOUR: Form = Form { name: "colour", colour: true, ..PLAIN };

/// Baseline and progressive, with and without restart markers, grey and colour in several samplings, sizes that fill their
/// blocks and sizes that do not.
pub(crate) const FORMS: [Form; 15] = [
    PLAIN,
    Form { name: "grey odd", size: (131, 99), ..PLAIN },
    Form { name: "grey optimised", optimised: true, ..PLAIN },
    Form { name: "grey restart", restart: 5, ..PLAIN },
    Form { name: "grey progressive", progressive: true, ..PLAIN },
    Form { name: "grey progressive restart", progressive: true, restart: 7, ..PLAIN },
    COLOUR,
    Form { name: "colour odd 420", size: (131, 99), sampling: SamplingFactor::F_2_2, ..COLOUR },
    Form { name: "colour 422", sampling: SamplingFactor::F_2_1, ..COLOUR },
    Form { name: "colour optimised", optimised: true, ..COLOUR },
    Form { name: "colour 440", sampling: SamplingFactor::F_1_2, ..COLOUR },
    Form { name: "colour 420 restart", sampling: SamplingFactor::F_2_2, restart: 4, ..COLOUR },
    Form { name: "colour progressive", progressive: true, ..COLOUR },
    Form {
        name: "colour odd 420 progressive",
        size: (131, 99),
        sampling: SamplingFactor::F_2_2,
        progressive: true,
        ..COLOUR
    },
    Form {
        name: "colour 422 progressive restart",
        sampling: SamplingFactor::F_2_1,
        progressive: true,
        restart: 3,
        ..COLOUR
    },
];

impl Form {
    /// Whether the encoder gives each colour a scan of its own, which is not read: it does so to find the best codes, and where a
    /// colour is much coarser than the others.
    pub(crate) fn apart(&self) -> bool {
        let much = matches!(self.sampling, SamplingFactor::F_4_1 | SamplingFactor::F_4_2);
        self.colour && !self.progressive && (much || self.optimised)
    }
}

/// A picture with a slope, an edge and some noise, as scans have.
pub(crate) fn picture(width: usize, height: usize, channels: usize) -> Vec<u8> {
    let mut dice = super::Dice::new(7);
    (0..width * height * channels)
        .map(|i| {
            let (x, y, c) = (i / channels % width, i / channels / width, i % channels);
            let edge = if x * 2 + y > width { 60 } else { 0 };
            (20 + c * 25 + x * 90 / width + y * 40 / height + edge + dice.below(12)) as u8
        })
        .collect()
}

pub(crate) fn encoded(form: Form) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, 90);
    encoder.set_sampling_factor(form.sampling);
    encoder.set_progressive(form.progressive);
    encoder.set_optimized_huffman_tables(form.optimised);
    if form.restart > 0 {
        encoder.set_restart_interval(form.restart);
    }
    let (width, height) = form.size;
    let (kind, channels) = if form.colour { (ColorType::Rgb, 3) } else { (ColorType::Luma, 1) };
    encoder.encode(&picture(width.into(), height.into(), channels), width, height, kind).unwrap();
    bytes
}

/// A part of a file: a segment with its marker, or the data of a scan.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Part {
    Segment(u8, Vec<u8>),
    /// Restart intervals of a scan, with the markers between them.
    Data(Vec<Vec<u8>>, Vec<u8>),
}

/// The parts of a sound file (ITU-T T.81, annex B).
pub(crate) fn parts(bytes: &[u8]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        assert_eq!(bytes[at], 0xFF, "a marker at {at}");
        let marker = bytes[at + 1];
        at += 2;
        if matches!(marker, 0xD8 | 0xD9) {
            parts.push(Part::Segment(marker, Vec::new()));
            continue;
        }
        let length = usize::from(u16::from_be_bytes([bytes[at], bytes[at + 1]]));
        parts.push(Part::Segment(marker, bytes[at + 2..at + length].to_vec()));
        at += length;
        if marker == 0xDA {
            let (mut intervals, mut markers) = (vec![Vec::new()], Vec::new());
            while bytes[at] != 0xFF || matches!(bytes[at + 1], 0 | 0xD0..=0xD7) {
                if bytes[at] == 0xFF && bytes[at + 1] != 0 {
                    markers.push(bytes[at + 1]);
                    intervals.push(Vec::new());
                    at += 2;
                    continue;
                }
                let stuffed = bytes[at] == 0xFF;
                let interval = intervals.last_mut().unwrap();
                interval.push(bytes[at]);
                at += 1;
                if stuffed {
                    interval.push(0);
                    at += 1;
                }
            }
            parts.push(Part::Data(intervals, markers));
        }
    }
    parts
}

/// The file of these parts.
pub(crate) fn joined(parts: &[Part]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for part in parts {
        match part {
            Part::Segment(marker @ (0xD8 | 0xD9), _) => bytes.extend([0xFF, *marker]),
            Part::Segment(marker, inside) => {
                bytes.extend([0xFF, *marker]);
                bytes.extend((inside.len() as u16 + 2).to_be_bytes());
                bytes.extend(inside);
            }
            Part::Data(intervals, markers) => {
                for (i, interval) in intervals.iter().enumerate() {
                    bytes.extend(interval);
                    if let Some(marker) = markers.get(i) {
                        bytes.extend([0xFF, *marker]);
                    }
                }
            }
        }
    }
    bytes
}
