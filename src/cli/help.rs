//! What the help of each verb says after its options: an example that runs as it stands, where pixels count from, and the keys of
//! the answer. `tests/verbs/examples.rs` runs the examples.

/// Where pixels count from, in the help of all verbs that take or tell places in a scan.
macro_rules! pixels {
    () => {
        "\n\nPlaces are in pixels of the scan as it is stored: x to the right and y down from the outer corner of its upper left pixel, \
         whose middle is 0.5,0.5. A box is two opposite corners 'x,y x,y'; decimals are taken."
    };
}

/// How a measured number stands in every answer.
macro_rules! numbers {
    () => {
        "\n\nAn answer begins with format, version, program and interval. A measured number is { value, u, low, high, unit, flags }: u \
         its standard uncertainty, low and high the ends of the 95 % interval; of a bound bound and limit in the place of u. What could \
         not be had is { value: null, reason }; what does not apply is left out. 'twinwedge schema' prints this form as JSON Schema."
    };
}

pub(super) const REPORT: &str = "Examples: twinwedge report sample --film 'Plover 640' --out plover.html
          twinwedge report sample --out sheets.pdf --depth sheet --paper letter
          twinwedge report sample --out films.csv --table films --decimal comma";

pub(super) const SLIDES: &str = "Examples: twinwedge slides sample --film 'Plover 640' --out talk.png
          twinwedge slides sample --film 'Plover 640' --size 1080x1920 --only curves,grain --out post.svg";

pub(super) const FIGURES: &str = concat!(
    "Example: twinwedge figures sample

Answer: series, reference_film, definitions (by key: label, unit, definition, difference_unit, source), films (each with figures by key,
curve, grain, spectrum, sharpness, patches, spots ...), comparisons (differences by key, speeds, patch_differences, findings ...),
problems. For example films/0/figures/gamma: { value: 0.64, u: 0.01, low: 0.62, high: 0.66, unit: D per log H, flags: [] }.",
    numbers!()
);

pub(super) const TONES: &str = concat!(
    "Example: twinwedge tones sample --film 'Plover 640' --index 160 --json

Answer with --json: rated_at, metered_log_h, subject_range, criteria, films (kept_zones, subject_by_meter, print ...), zones (each
with zone, log_h, films and against_reference), paper.",
    numbers!()
);

pub(super) const CONCLUSIONS: &str = concat!(
    "Example: twinwedge conclusions sample --json

Answer with --json: conclusions, each with topic, definition, sentence, foremost (those that may be the first), films (each with film,
value, best_place, worst_place), left_out.",
    numbers!()
);

pub(super) const CHECK: &str = "Example: twinwedge check sample --json

Answer with --json: film_count, problems (each with severity, subject, cause, remedy).";

pub(super) const DEVELOPMENT: &str = concat!(
    "Examples: twinwedge development sample
          twinwedge development sample --film 'Plover 640' --json

Answer with --json: films, each with film, wanted, time { celsius, minutes, limited_by }, law, times, rolls, notes, prediction.",
    numbers!()
);

pub(super) const CURVE: &str = concat!(
    "Examples: twinwedge curve tern.csv --tablet tablet.csv --exposure 'absolute 0.5 0.02' --base-fog '0.27 0.003'
          twinwedge curve tern.tif --tablet 'nominal 21' --base-fog 0.27 --calibration scanner.ron --points 50

Answer: figures (by key), curve (readings, levels, outliers, spline, parametric, grid), reach, peaks_and_valleys; of scans strips
and encodings too. Residuals and departures are what was read minus what the curve says. For example figures/speed_point:
{ value: -2.08, u: 0.01, low: -2.10, high: -2.06, unit: log H, flags: [] }.",
    pixels!(),
    numbers!()
);

pub(super) const STRIP: &str = concat!(
    "Examples: twinwedge strip tern.tif --steps 21 --calibration scanner.ron
          twinwedge strip tern.tif --corners '54,57 1712,84 1710,241 52,216' --steps 21 --encoding srgb --cgats tern.txt

Answer: steps (each with step, density, code, relative_spread, pixel_count, left_out_count, corners), found (sure, doubts, corners,
step_count, borders ...) or steps_seen, encodings. For example steps/0/density: { value: 2.31, u: 0.01, ..., unit: D, flags: [] }.",
    pixels!(),
    numbers!()
);

pub(super) const CALIBRATE: &str = concat!(
    "Example: twinwedge calibrate tablet.tif --tablet tablet.csv --out scanner.ron

Answer: steps (each with step, density, code, used, residual: known density minus what the calibration makes of the code),
residual_rms, stray_light, notes, found.

A calibration file is RON; paths in it are relative to it, and the tablet may also be \"nominal 21\":
  (scan: \"tablet.tif\", tablet: \"tablet.csv\", corners: ((80, 60), (2010, 64), (2008, 190), (78, 186)))",
    pixels!(),
    numbers!()
);

pub(super) const SCAN: &str = concat!(
    "Example: twinwedge scan tern.tif --calibration scanner.ron

Answer: file (width, height, bits, dpi, profile ...), examination (faults: the names of those that were recognised; tests), encodings,
and on request falloff and drift (measured, known, difference).",
    pixels!(),
    numbers!()
);

pub(super) const PATCHES: &str = concat!(
    "Example: twinwedge patches tern-print.tif plover-print.tif --layout target.ron --encoding srgb

A layout file is RON, corners in the first print's pixels, patches row by row:
  (rows: 1, columns: 3, corners: ((100, 100), (400, 100), (400, 200), (100, 200)),
   patches: [\"white\", \"grey card\", \"shadow\"])

Answer: registration, films (each with role and patches: name, density, code, corners ...), patch_differences (name, reference,
candidate, difference: candidate minus reference, against_grey, distinguishable), encodings.",
    pixels!(),
    numbers!()
);

pub(super) const LAYOUT: &str = "Example: twinwedge layout sample --save target.patches";

pub(super) const REGISTER: &str = concat!(
    "Example: twinwedge register tern-print.tif plover-print.tif

Answer: transform (model; matrix, which takes x, y, 1 of the reference to the candidate; scale, angle_degrees, origin), residual_px,
u_px, u_worst_px, window_count, sure, doubts.",
    pixels!()
);

pub(super) const DETAIL: &str = concat!(
    "Example: twinwedge detail tern-print.tif plover-print.tif --third dunlin-print.tif --enlargement 6.5 --encoding srgb

Answer: frequencies (of the negative or the print), limit_of_agreement, limits, statement (lost_to ...), rows (cycles_per_mm,
coherence, signal_to_grain, modulation), map, differing, notes.",
    pixels!(),
    numbers!()
);

pub(super) const GRAIN: &str = concat!(
    "Examples: twinwedge grain field.tif --area '16,16 300,300' --calibration scanner.ron
          twinwedge grain fields.tif --area '8,8 312,312' --area '328,8 632,312' --base-fog 0.27 --aperture 96um \
--encoding srgb

Answer: areas (each with granularity: a thousand times the standard deviation of density; density, aperture_um, scanner_noise,
loss_to_scanner, law_of_apertures, notes ...), curve (points, base_fog, at_net_density_1), encodings.",
    pixels!(),
    numbers!()
);

pub(super) const SPECTRUM: &str = concat!(
    "Example: twinwedge spectrum field.tif --against plover-field.tif --enlargement 10 --calibration scanner.ron

Answer: spectrum and against (each with at_zero, granularity_48_um, density, rings of cycles_per_mm and nps, autocorrelation, lines,
scanner_noise ...), viewed (visible_granularity, seen_from_enlargement ... of both).",
    pixels!(),
    numbers!()
);

pub(super) const EDGE: &str = concat!(
    "Example: twinwedge edge edge.tif --area '8,8 312,412' --calibration scanner.ron --readings tern.csv --tablet tablet.csv

Answer: mtf50, mtf10, width_10_90, space, sides, angle_degrees, overshoot, mtf and mtf_beyond_half_a_cycle (rows of cycles_per_mm,
transfer, low, high), spread, notes.",
    pixels!(),
    numbers!()
);

pub(super) const GATHER: &str = "Examples: twinwedge gather scans --out house-films.twinwedge
          twinwedge gather scans --yes all --out house-films.twinwedge
          twinwedge gather scans/list.csv --out scans/house-films.twinwedge

Of a folder, files that are doubtful for one reason are one question, with a number: --yes 1,3 says that these are right.

Answer with --json: series_file, films, files (each with name, kind, film, sure), questions (each with number, question,
files), problems.

Columns of the list, named in its first row, in any order; only file and kind are always needed:
  file         path relative to the list
  kind         tablet (CSV of known densities), calibration (scan of a tablet), readings (CSV), strip, print, grain,
               edge, frame (of a bracket), paper (CSV of a tablet's print), paper scan
  film         label of the film the file belongs to
  role         reference or candidate
  tablet       file of a tablet row, or 'nominal 21' (11, 31, 41)
  exposure     'absolute LGH', 'absolute LGH U' (lg of lux seconds before the tablet), or 'less STOPS'
               a second row of readings or strip of a film is an additional strip of its roll: 'less STOPS' or
               'less STOPS U' than its first, 'overlap' or nothing where that is to be found
  calibration  file of a calibration row
  encoding     of a scan without one: what its codes stand for, linear, srgb, power:2.2, density:0..4 or profile
  resolution   dots per inch, in place of what the file says
  place        corners 'x,y x,y x,y x,y' in pixels; for grain and edge 'x,y x,y', further rows of a film's grain are
               areas of other densities; empty: a strip is
               looked for, else the whole picture; for a frame its shadow patch, on one of the reference alone
  steps        number of steps, where the strip does not show the whole tablet
  seen         of a calibration: film or print
  exposure_index
               of a frame: the index that it was metered at
  box_speed    arithmetic
  base_fog     density of an unexposed area (of a paper: its white), 'DENSITY' or 'DENSITY U'
  roll_of      label of the film of which this is another roll
  light_source, seconds
               of the tablet's exposure
  developer, dilution, temperature (degrees Celsius), minutes, agitation
               how the film was developed";

pub(super) const SCHEMA: &str = "Example: twinwedge schema > twinwedge.schema.json";

pub(super) const GREYS: &str = concat!(
    "Example: twinwedge greys target.csv

The table names its columns in its first line; the densities known are those of the neutral patches on the target itself:
  patch,known,reference,candidate,u
  white,0.06,0.10,0.09,0.01
  grey card,0.74,0.75,0.77,0.01
  black,1.66,1.95,1.99,0.01
  brick,,1.02,0.88,0.01

Answer: of one print by, grey_card, patches (each with name, is, and from_grey_card: its stops from there), closed, doubts; of two prints
reference, candidate, patches (each with name, family, difference, said) and families.",
    numbers!()
);

pub(super) const SENSITIVITY: &str = concat!(
    "Example: twinwedge sensitivity target.csv --reflectances reflectances.csv --light 'daylight 5500'

The table is that of 'twinwedge greys', or one of stops that were found before:
  patch,known,stops,u
  grey card,0.74,,
  brick,,-0.62,0.03

Answer: bands (each with name, from_nm, to_nm, exposure_share, relative_sensitivity, possible, told_apart), may_be, sees, curve.",
    numbers!()
);

pub(super) const FILTERS: &str = concat!(
    "Example: twinwedge filters tern-sensitivity.csv --light 'daylight 5500'

Answer: filters, each with filter, words and filter_factor { exposure_factor, in_stops, covered_share }.",
    numbers!()
);
