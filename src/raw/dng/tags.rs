//! Tag numbers of the Digital Negative specification 1.7 and of TIFF 6.0, by their names there.

pub(super) const NEW_SUBFILE_TYPE: u16 = 254;
pub(super) const IMAGE_WIDTH: u16 = 256;
pub(super) const IMAGE_LENGTH: u16 = 257;
pub(super) const BITS_PER_SAMPLE: u16 = 258;
pub(super) const COMPRESSION: u16 = 259;
pub(super) const PHOTOMETRIC_INTERPRETATION: u16 = 262;
pub(super) const STRIP_OFFSETS: u16 = 273;
pub(super) const SAMPLES_PER_PIXEL: u16 = 277;
pub(super) const ROWS_PER_STRIP: u16 = 278;
pub(super) const STRIP_BYTE_COUNTS: u16 = 279;
pub(super) const PLANAR_CONFIGURATION: u16 = 284;
pub(super) const TILE_WIDTH: u16 = 322;
pub(super) const TILE_LENGTH: u16 = 323;
pub(super) const TILE_OFFSETS: u16 = 324;
pub(super) const TILE_BYTE_COUNTS: u16 = 325;
pub(super) const SAMPLE_FORMAT: u16 = 339;
pub(super) const CFA_REPEAT_PATTERN_DIM: u16 = 33_421;
pub(super) const CFA_PATTERN: u16 = 33_422;
pub(crate) const DNG_VERSION: u16 = 50_706;
pub(super) const CFA_PLANE_COLOR: u16 = 50_710;
pub(super) const CFA_LAYOUT: u16 = 50_711;
pub(super) const LINEARIZATION_TABLE: u16 = 50_712;
pub(super) const BLACK_LEVEL_REPEAT_DIM: u16 = 50_713;
pub(super) const BLACK_LEVEL: u16 = 50_714;
pub(super) const BLACK_LEVEL_DELTA_H: u16 = 50_715;
pub(super) const BLACK_LEVEL_DELTA_V: u16 = 50_716;
pub(super) const WHITE_LEVEL: u16 = 50_717;
pub(super) const DEFAULT_CROP_ORIGIN: u16 = 50_719;
pub(super) const DEFAULT_CROP_SIZE: u16 = 50_720;
pub(super) const COLOR_MATRIX: [u16; 3] = [50_721, 50_722, 52_531];
pub(super) const CAMERA_CALIBRATION: [u16; 3] = [50_723, 50_724, 52_530];
pub(super) const ANALOG_BALANCE: u16 = 50_727;
pub(super) const AS_SHOT_NEUTRAL: u16 = 50_728;
pub(super) const AS_SHOT_WHITE_XY: u16 = 50_729;
pub(super) const BASELINE_EXPOSURE: u16 = 50_730;
pub(super) const CALIBRATION_ILLUMINANT: [u16; 3] = [50_778, 50_779, 52_529];
pub(super) const ACTIVE_AREA: u16 = 50_829;
/// Lights that have no number: type, then chromaticity or spectrum.
pub(super) const ILLUMINANT_DATA: [u16; 3] = [52_533, 52_534, 52_535];
pub(super) const CAMERA_CALIBRATION_SIGNATURE: u16 = 50_931;
pub(super) const PROFILE_CALIBRATION_SIGNATURE: u16 = 50_932;
pub(super) const PROFILE_HUE_SAT_MAP_DIMS: u16 = 50_937;
pub(super) const PROFILE_HUE_SAT_MAP_DATA: [u16; 3] = [50_938, 50_939, 52_537];
pub(super) const FORWARD_MATRIX: [u16; 3] = [50_964, 50_965, 52_532];
pub(super) const OPCODE_LISTS: [u16; 3] = [51_008, 51_009, 51_022];
pub(super) const SUB_TILE_BLOCK_SIZE: u16 = 50_974;
pub(super) const ROW_INTERLEAVE_FACTOR: u16 = 50_975;
pub(super) const COLUMN_INTERLEAVE_FACTOR: u16 = 52_547;

/// PhotometricInterpretation: a colour filter array (TIFF/EP).
pub(super) const PHOTOMETRIC_CFA: u32 = 32_803;
/// PhotometricInterpretation: LinearRaw.
pub(super) const PHOTOMETRIC_LINEAR: u32 = 34_892;

/// Compression: none.
pub(super) const COMPRESSION_NONE: u32 = 1;
/// Compression: JPEG, lossless for sensor data (baseline for other 8-bit pictures).
pub(super) const COMPRESSION_JPEG: u32 = 7;
/// Compression: lossy JPEG of sensor data.
pub(super) const COMPRESSION_LOSSY_JPEG: u32 = 34_892;
/// Compression: deflate, two numbers of one scheme.
pub(super) const COMPRESSION_DEFLATE: [u32; 2] = [8, 32_946];
/// Compression: JPEG XL.
pub(super) const COMPRESSION_JPEG_XL: u32 = 52_546;
