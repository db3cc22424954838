//! Photos from good, damaged, huge and foreign bytes.

use image::{ExtendedColorType, RgbImage, RgbaImage};

use super::*;

/// A red left half and a blue right half, in `columns` by `rows`.
fn halves(columns: u32, rows: u32) -> RgbImage {
    RgbImage::from_fn(columns, rows, |x, _| {
        image::Rgb(if x < columns / 2 { [250, 10, 10] } else { [10, 10, 250] })
    })
}

fn png(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    picture.write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png).unwrap();
    bytes
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 90)
        .write_image(picture, picture.width(), picture.height(), ExtendedColorType::Rgb8)
        .unwrap();
    bytes
}

/// The same JPEG with a piece that says how the camera was held.
fn held(jpeg: &[u8], orientation: u8) -> Vec<u8> {
    let mut piece = vec![0xFF, 0xE1, 0, 34];
    piece.extend(b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0");
    piece.extend([orientation, 0, 0, 0, 0, 0, 0]);
    [&jpeg[..2], &piece, &jpeg[2..]].concat()
}

#[test]
fn a_photo_is_read_and_made_small_in_its_own_shape() {
    for bytes in [png(&halves(2_560, 640)), jpeg(&halves(2_560, 640))] {
        let photo = Photo::read(&bytes).unwrap();
        assert_eq!((photo.size(), photo.taken_size()), ((1_280, 320), (2_560, 640)));
        let small = photo.scaled(4, 1);
        let [left, right] = [small.at(0, 0), small.at(3, 0)];
        assert!(left[0] > 200 && left[2] < 60, "{left:?}");
        assert!(right[2] > 200 && right[0] < 60, "{right:?}");
        assert_eq!(small.at(4, 0), [255; 3]);
    }
}

#[test]
fn a_photo_is_turned_as_the_camera_was_held() {
    let photo = Photo::read(&held(&jpeg(&halves(64, 32)), 6)).unwrap();
    // A quarter turn clockwise: what was left is on top.
    assert_eq!((photo.size(), photo.taken_size()), ((32, 64), (64, 32)));
    assert!(photo.at(16, 4)[0] > 200 && photo.at(16, 60)[2] > 200);
}

#[test]
fn what_is_clear_is_white_paper() {
    let mut bytes = Vec::new();
    let clear = RgbaImage::from_pixel(3, 3, image::Rgba([0, 0, 0, 0]));
    clear.write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png).unwrap();
    assert_eq!(Photo::read(&bytes).unwrap().at(1, 1), [255; 3]);
}

#[test]
fn another_kind_of_file_and_no_file_at_all_are_said() {
    for bytes in [b"".as_slice(), b"%PDF-1.7", b"GIF89a\x01\0\x01\0", "serial 12\n".as_bytes()] {
        assert_eq!(Photo::read(bytes), Err(PhotoFault::OtherKind));
    }
}

#[test]
fn a_file_that_claims_to_be_huge_is_refused_by_its_head() {
    let mut bytes = png(&halves(8, 8));
    // Width and height of the header, whose sum is not looked at before the size.
    bytes[16..24].copy_from_slice(&[0, 0, 0x40, 0, 0, 0, 0x40, 0]);
    let crc = crc32(&bytes[12..29]);
    bytes[29..33].copy_from_slice(&crc);
    let fault = Photo::read(&bytes).unwrap_err();
    assert_eq!(fault, PhotoFault::TooLarge { width: 0x4000, height: 0x4000 });
    assert!(fault.to_string().contains("16384 x 16384"), "{fault}");
}

/// The check sum of a piece of a PNG file.
fn crc32(bytes: &[u8]) -> [u8; 4] {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { crc >> 1 ^ 0xEDB8_8320 } else { crc >> 1 };
        }
    }
    let crc = !crc;
    [24, 16, 8, 0].map(|places| u8::try_from(crc >> places & 0xFF).unwrap())
}

#[test]
fn whatever_is_cut_off_or_flipped_is_a_photo_or_a_fault_and_never_a_panic() {
    for bytes in [png(&halves(24, 16)), jpeg(&halves(24, 16)), held(&jpeg(&halves(24, 16)), 8)] {
        for end in 0..bytes.len() {
            let cut = Photo::read(&bytes[..end]);
            // Of a PNG only the last piece may be missing, which holds no pixel.
            assert!(cut.is_err() || end + 16 >= bytes.len(), "{end} of {}", bytes.len());
        }
        for at in 0..bytes.len() {
            for bit in [0x01, 0x80, 0xFF] {
                let mut flipped = bytes.clone();
                flipped[at] ^= bit;
                if let Ok(photo) = Photo::read(&flipped) {
                    let (width, height) = photo.size();
                    assert_eq!(photo.rgb().len(), width as usize * height as usize * 3);
                }
            }
        }
    }
}

#[test]
fn a_photo_fits_into_what_room_there_is() {
    let photo = Photo::read(&png(&halves(40, 10))).unwrap();
    assert_eq!(photo.fit(20, 100, 1), (20, 5));
    assert_eq!(photo.fit(100, 5, 1), (20, 5));
    assert_eq!(photo.fit(1_000, 1_000, 1), (40, 10));
    assert_eq!(photo.fit(1_000, 1_000, 3), (120, 30));
    assert_eq!(photo.fit(0, 0, 1), (1, 1));
    let small = photo.scaled(1, 1);
    assert_eq!((small.size(), small.rgb().len()), ((1, 1), 3));
}
