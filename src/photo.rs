//! Photos as they are shown: the bytes of a JPEG or PNG file to a small picture in memory.
//!
//! Bounded on every side, because the file comes from anywhere: how many pixels are decoded, how
//! much memory that may take, how large the picture is that is kept. Nothing here reads a file or
//! knows a terminal, and what is shown is a copy: the file itself stays as it was attached.

use std::io::Cursor;

use image::{DynamicImage, ImageDecoder as _, ImageEncoder as _, ImageFormat, ImageReader, Limits};

/// The most columns and rows of pixels of a file that is shown.
const SIDE_MAX: u32 = 20_000;
/// The most pixels: as many as a good telephone takes, so that decoding stays below half a gigabyte.
const PIXELS_MAX: u64 = 50_000_000;
/// The most bytes of the decoded picture.
const ALLOC_BYTES_MAX: u64 = 256 << 20;
/// The most columns and rows of the picture that is kept.
const KEPT_SIDE_MAX: u32 = 1_280;

/// A picture in memory: rows from the top, three bytes a pixel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    width: u32,
    height: u32,
    rgb: Vec<u8>,
    taken: (u32, u32),
}

/// Why a file is not shown. It is kept all the same.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhotoFault {
    /// Neither JPEG nor PNG.
    #[error("it is no JPEG or PNG picture; open it with a program of its own kind")]
    OtherKind,
    /// Too many pixels.
    #[error(
        "it has {width} x {height} pixels, and 50 million are the most that are shown here; open it elsewhere"
    )]
    TooLarge {
        /// Its columns.
        width: u32,
        /// Its rows.
        height: u32,
    },
    /// The bytes are not those of a whole picture.
    #[error(
        "the picture is damaged ({0}); look at the file itself, and take the photo again if it is needed"
    )]
    Damaged(String),
}

impl Photo {
    /// The picture in the bytes of a JPEG or PNG file, turned as the camera was held, and made as
    /// small as it is ever shown.
    ///
    /// # Errors
    /// Another kind of file, too many pixels, or damage.
    pub fn read(bytes: &[u8]) -> Result<Self, PhotoFault> {
        let Ok(format @ (ImageFormat::Jpeg | ImageFormat::Png)) = image::guess_format(bytes) else {
            return Err(PhotoFault::OtherKind);
        };
        let damaged = |error: image::ImageError| PhotoFault::Damaged(error.to_string());
        if format == ImageFormat::Jpeg && !is_whole_jpeg(bytes) {
            return Err(PhotoFault::Damaged("it ends before its last row".to_owned()));
        }
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        // How large it is stands in its head: that is looked at before room is made for the pixels.
        let mut limits = Limits::no_limits();
        limits.max_alloc = Some(ALLOC_BYTES_MAX);
        reader.limits(limits);
        let mut decoder = reader.into_decoder().map_err(damaged)?;
        let (width, height) = decoder.dimensions();
        let n_pixels = u64::from(width) * u64::from(height);
        let is_long = width > SIDE_MAX || height > SIDE_MAX;
        if is_long || n_pixels > PIXELS_MAX || decoder.total_bytes() > ALLOC_BYTES_MAX {
            return Err(PhotoFault::TooLarge { width, height });
        }
        // A picture that does not say how it was held was held upright.
        let held = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
        let whole = DynamicImage::from_decoder(decoder).map_err(damaged)?;
        let mut small = if width > KEPT_SIDE_MAX || height > KEPT_SIDE_MAX {
            whole.thumbnail(KEPT_SIDE_MAX, KEPT_SIDE_MAX)
        } else {
            whole
        };
        small.apply_orientation(held);
        Ok(Self::of(&small, (width, height)))
    }

    /// The pixels of `picture`; what is clear in it becomes white.
    fn of(picture: &DynamicImage, taken: (u32, u32)) -> Self {
        let rgba = picture.to_rgba8();
        let (width, height) = rgba.dimensions();
        let on_white = |colour: u8, alpha: u8| {
            let (colour, alpha) = (u32::from(colour), u32::from(alpha));
            u8::try_from((colour * alpha + 255 * (255 - alpha)) / 255).unwrap_or(u8::MAX)
        };
        let rgb = rgba.pixels().flat_map(|p| {
            let [red, green, blue, alpha] = p.0;
            [on_white(red, alpha), on_white(green, alpha), on_white(blue, alpha)]
        });
        Self { width, height, rgb: rgb.collect(), taken }
    }

    /// Its columns and rows.
    pub fn size(&self) -> (u32, u32) {
        (self.width, self.height)
    }

    /// The columns and rows of the file that it was made from, as the camera wrote them.
    pub fn taken_size(&self) -> (u32, u32) {
        self.taken
    }

    /// Its bytes: rows from the top, three a pixel.
    pub fn rgb(&self) -> &[u8] {
        &self.rgb
    }

    /// The largest size of its own shape within `columns` and `rows` pixels, never enlarged by more
    /// than `grow` times; at least one each.
    pub fn fit(&self, columns: u32, rows: u32, grow: u32) -> (u32, u32) {
        let (width, height) = (u64::from(self.width.max(1)), u64::from(self.height.max(1)));
        let most_wide = u64::from(columns).min(width * u64::from(grow)).max(1);
        let most_high = u64::from(rows).min(height * u64::from(grow)).max(1);
        // Whichever side is met first decides.
        let (fit_wide, fit_high) = if most_wide * height <= most_high * width {
            (most_wide, most_wide * height / width)
        } else {
            (most_high * width / height, most_high)
        };
        let side = |n: u64| u32::try_from(n.max(1)).unwrap_or(u32::MAX);
        (side(fit_wide), side(fit_high))
    }

    /// The picture in `columns` by `rows` pixels; each is the mean of those that it stands for.
    #[must_use]
    pub fn scaled(&self, columns: u32, rows: u32) -> Self {
        let (columns, rows) = (columns.max(1), rows.max(1));
        let mut rgb = Vec::with_capacity(columns as usize * rows as usize * 3);
        for y in 0..rows {
            for x in 0..columns {
                rgb.extend(self.mean(span(x, columns, self.width), span(y, rows, self.height)));
            }
        }
        Self { width: columns, height: rows, rgb, taken: self.taken }
    }

    /// The mean colour of a part of the picture.
    fn mean(&self, (left, right): (u32, u32), (top, bottom): (u32, u32)) -> [u8; 3] {
        let mut sum = [0_u64; 3];
        let mut n: u64 = 0;
        for y in top..bottom {
            for x in left..right {
                let at = (y as usize * self.width as usize + x as usize) * 3;
                let Some(pixel) = self.rgb.get(at..at + 3) else { continue };
                for (sum, part) in sum.iter_mut().zip(pixel) {
                    *sum += u64::from(*part);
                }
                n += 1;
            }
        }
        sum.map(|sum| u8::try_from((sum + n / 2) / n.max(1)).unwrap_or(u8::MAX))
    }

    /// The bytes of a PNG file of it.
    pub fn png(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        let encoder = image::codecs::png::PngEncoder::new(&mut bytes);
        let (width, height) = self.size();
        let written = encoder.write_image(&self.rgb, width, height, image::ExtendedColorType::Rgb8);
        written.expect("internal: as many bytes as pixels, into memory");
        bytes
    }

    /// One colour all over.
    #[cfg(test)]
    pub(crate) fn plain(width: u32, height: u32, colour: [u8; 3]) -> Self {
        let rgb = colour.repeat(width as usize * height as usize);
        Self { width, height, rgb, taken: (width, height) }
    }

    /// The colour at a place; white outside.
    pub fn at(&self, x: u32, y: u32) -> [u8; 3] {
        let at = (y as usize * self.width as usize + x as usize) * 3;
        match self.rgb.get(at..at + 3) {
            Some(&[red, green, blue]) if x < self.width => [red, green, blue],
            _ => [255; 3],
        }
    }
}

/// True where the picture's data have an end. A decoder fills up what is missing with grey, which
/// would look like a photo of something.
fn is_whole_jpeg(bytes: &[u8]) -> bool {
    const START_OF_SCAN: u8 = 0xDA;
    let mut at = 2;
    // Up to the data, each piece says how long it is; a small picture inside has an end of its own.
    while let Some(&[0xFF, marker, high, low]) = bytes.get(at..at + 4) {
        if marker == START_OF_SCAN {
            return bytes.get(at..).is_some_and(|data| data.windows(2).any(|w| w == [0xFF, 0xD9]));
        }
        at += 2 + usize::from(u16::from(high) << 8 | u16::from(low));
    }
    false
}

/// The pixels of `all` that the pixel `at` of `n` stands for; at least one.
fn span(at: u32, n: u32, all: u32) -> (u32, u32) {
    let place = |at: u32| {
        let place = u64::from(at) * u64::from(all) / u64::from(n.max(1));
        u32::try_from(place).unwrap_or(u32::MAX)
    };
    let from = place(at).min(all.saturating_sub(1));
    (from, place(at + 1).max(from + 1))
}

#[cfg(test)]
#[path = "photo_tests.rs"]
mod tests;
