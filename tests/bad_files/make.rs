//! Files made for the tests, with the encoders of general libraries and by changing bytes.

use std::io::Cursor;

use tiff::encoder::{TiffEncoder, TiffValue, colortype};

/// A ramp of `count` codes.
pub(crate) fn ramp16(count: usize) -> Vec<u16> {
    (0..count).map(|i| (i * 40_503 % 65_536) as u16).collect()
}

/// A ramp of `count` codes.
pub(crate) fn ramp8(count: usize) -> Vec<u8> {
    (0..count).map(|i| (i * 151 % 256) as u8).collect()
}

/// A TIFF file of one picture, without compression, one strip for 7 rows.
pub(crate) fn tiff<C: colortype::ColorType>(width: u32, height: u32, samples: &[C::Inner]) -> Vec<u8>
where
    [C::Inner]: TiffValue,
{
    let mut bytes = Vec::new();
    let mut encoder = TiffEncoder::new(Cursor::new(&mut bytes)).expect("a buffer");
    let mut image = encoder.new_image::<C>(width, height).expect("a picture");
    image.rows_per_strip(7).expect("rows");
    image.write_data(samples).expect("samples");
    bytes
}

/// A grey 16-bit TIFF of 40 x 30 pixels.
pub(crate) fn grey16() -> Vec<u8> {
    tiff::<colortype::Gray16>(40, 30, &ramp16(1200))
}

/// A grey 8-bit TIFF of 40 x 30 pixels.
pub(crate) fn grey8() -> Vec<u8> {
    tiff::<colortype::Gray8>(40, 30, &ramp8(1200))
}

/// Changes the value of an entry that fits into its four bytes (TIFF 6.0, section 2; little endian).
pub(crate) fn with_tag(mut bytes: Vec<u8>, tag: u16, value: u32) -> Vec<u8> {
    let at = entry(&bytes, tag).expect("the entry");
    // Type LONG: any value fits.
    bytes[at + 2..at + 4].copy_from_slice(&4_u16.to_le_bytes());
    bytes[at + 8..at + 12].copy_from_slice(&value.to_le_bytes());
    bytes
}

/// The same file with an entry that says that no differences are taken (317), in place of the last one that is not needed.
pub(crate) fn with_predictor_entry(bytes: &[u8]) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    if entry(&bytes, 317).is_some() {
        return bytes;
    }
    // Copies the directory to the end, one entry longer; entries stand in the order of their numbers.
    let at = u32::from_le_bytes(bytes[4..8].try_into().expect("four bytes")) as usize;
    let count = usize::from(u16::from_le_bytes([bytes[at], bytes[at + 1]]));
    let mut entries: Vec<Vec<u8>> = bytes[at + 2..][..12 * count].chunks(12).map(<[u8]>::to_vec).collect();
    entries.push([317_u16.to_le_bytes(), 3_u16.to_le_bytes(), [1, 0], [0, 0], [1, 0], [0, 0]].concat());
    entries.sort_by_key(|entry| u16::from_le_bytes([entry[0], entry[1]]));
    let new = bytes.len() as u32;
    bytes.extend((entries.len() as u16).to_le_bytes());
    bytes.extend(entries.concat());
    bytes.extend([0; 4]);
    bytes[4..8].copy_from_slice(&new.to_le_bytes());
    bytes
}

/// Where an entry of the directory stands.
pub(crate) fn entry(bytes: &[u8], tag: u16) -> Option<usize> {
    let word = |at: usize| u16::from_le_bytes([bytes[at], bytes[at + 1]]);
    let directory = u32::from_le_bytes([bytes[4], bytes[5], bytes[6], bytes[7]]) as usize;
    (0..usize::from(word(directory))).map(|i| directory + 2 + 12 * i).find(|at| word(*at) == tag)
}

/// A PNG file.
pub(crate) fn png(
    width: u32,
    height: u32,
    color: png::ColorType,
    depth: png::BitDepth,
    data: &[u8],
) -> Vec<u8> {
    png_with(width, height, color, depth, data, |_| {})
}

/// A PNG file with further chunks.
pub(crate) fn png_with(
    width: u32,
    height: u32,
    color: png::ColorType,
    depth: png::BitDepth,
    data: &[u8],
    more: impl FnOnce(&mut png::Info<'_>),
) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut info = png::Info::with_size(width, height);
    info.color_type = color;
    info.bit_depth = depth;
    more(&mut info);
    let encoder = png::Encoder::with_info(&mut bytes, info).expect("a header");
    encoder.write_header().expect("a header").write_image_data(data).expect("samples");
    bytes
}

/// A JPEG file of a smooth grey or colour picture.
pub(crate) fn jpeg(width: u32, height: u32, color: image::ExtendedColorType) -> Vec<u8> {
    let channels = usize::from(color.channel_count());
    let pixel = |i: usize| ((i / channels % width as usize) * 255 / width as usize) as u8;
    let data: Vec<u8> = (0..width as usize * height as usize * channels).map(pixel).collect();
    let mut bytes = Vec::new();
    let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 95);
    encoder.set_pixel_density(image::codecs::jpeg::PixelDensity::dpi(1200));
    encoder.encode(&data, width, height, color).expect("a picture");
    bytes
}

/// The head of a JPEG file of four colours (ITU-T T.81: SOI, Adobe's APP14, SOF0, SOS, EOI).
pub(crate) fn cmyk_jpeg() -> Vec<u8> {
    let mut bytes = vec![0xFF, 0xD8];
    bytes.extend([0xFF, 0xEE, 0, 14]);
    bytes.extend(b"Adobe");
    bytes.extend([0, 100, 0, 0, 0, 0, 0]);
    bytes.extend([0xFF, 0xDB, 0, 67, 0]);
    bytes.extend([1; 64]);
    bytes.extend([0xFF, 0xC0, 0, 20, 8, 0, 16, 0, 16, 4]);
    bytes.extend([1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0]);
    bytes.extend([0xFF, 0xDA, 0, 14, 4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0]);
    bytes.extend([0; 64]);
    bytes.extend([0xFF, 0xD9]);
    bytes
}

/// A PNG file whose header claims any size and whose picture is a few bytes.
pub(crate) fn boasting_png(side: u32) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut info = png::Info::with_size(side, side);
    info.bit_depth = png::BitDepth::Sixteen;
    let encoder = png::Encoder::with_info(&mut bytes, info).expect("a header");
    let mut writer = encoder.write_header().expect("a header");
    writer.write_chunk(png::chunk::IDAT, &[0x78, 0x9C, 3, 0, 0, 0, 0, 1]).expect("a chunk");
    drop(writer);
    bytes
}

/// An interlaced PNG file of 8-bit grey (PNG specification, Adam7), its stream in one stored block (RFC 1950, 1951).
pub(crate) fn interlaced_png(width: usize, height: usize, samples: &[u8]) -> Vec<u8> {
    const PASSES: [(usize, usize, usize, usize); 7] =
        [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)];
    let mut raw = Vec::new();
    for (x0, y0, dx, dy) in PASSES {
        for y in (y0..height).step_by(dy).filter(|_| x0 < width) {
            raw.push(0);
            raw.extend((x0..width).step_by(dx).map(|x| samples[y * width + x]));
        }
    }
    let (a, b) = raw.iter().fold((1_u32, 0_u32), |(a, b), byte| {
        let a = (a + u32::from(*byte)) % 65_521;
        (a, (b + a) % 65_521)
    });
    let length = raw.len() as u16;
    let mut stream = vec![0x78, 0x01, 1];
    stream.extend(length.to_le_bytes());
    stream.extend((!length).to_le_bytes());
    stream.extend(raw);
    stream.extend((b << 16 | a).to_be_bytes());
    let mut bytes = Vec::new();
    let mut info = png::Info::with_size(width as u32, height as u32);
    info.interlaced = true;
    let encoder = png::Encoder::with_info(&mut bytes, info).expect("a header");
    let mut writer = encoder.write_header().expect("a header");
    writer.write_chunk(png::chunk::IDAT, &stream).expect("a chunk");
    drop(writer);
    bytes
}
