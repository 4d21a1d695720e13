//! The pages of a Parquet column, one after another: what each claims to hold is looked at before anything is unpacked (a
//! damaged header may ask for more memory than there is, which no program survives).

use std::io::{Cursor, Read, Seek, SeekFrom};
use std::ops::Range;

use polars_arrow::array::Array;
use polars_arrow::datatypes::{ArrowDataType, Field};
use polars_buffer::Buffer;
use polars_error::{PolarsResult, polars_ensure};
use polars_parquet::parquet::compression::{Compression, DecompressionContext, decompress};
use polars_parquet::parquet::page::{PageType, ParquetPageHeader, split_buffer_v1};
use polars_parquet::parquet::read::PageMetaData;
use polars_parquet::read::{BasicDecompressor, ColumnChunkMetadata, PageReader, PhysicalType, column_iter_to_arrays};
use polars_parquet::write::Encoding;
use polars_parquet_format::thrift::protocol::TCompactInputProtocol;

use crate::logs::read_up_to;
use crate::read::limits::LARGEST_PAGE_BYTES as MOST_BYTES;

/// Bytes that a page's header has at most.
const HEADER_BYTES: usize = 1 << 12;
/// Most bytes of a dictionary that the pages of a column in one group of rows refer to, counted once a page: many small
/// pages with a large dictionary take longer to unpack than anybody waits.
const MOST_REPEATED: usize = 8 * MOST_BYTES;

/// A column in one group of rows, read from its first page to its last.
#[derive(Debug)]
pub(crate) struct ColumnPages {
    /// Bytes of the file that are left.
    left: Range<u64>,
    /// Rows of the group.
    rows: usize,
    /// Rows that were read.
    pub(crate) read: usize,
    /// The page that others refer to.
    dictionary: Vec<u8>,
    /// Its bytes unpacked, and how many of them were unpacked so far.
    dictionary_bytes: usize,
    repeated: usize,
}

/// A page as it stands in the file, with room that the next one uses again.
pub(crate) struct RawPage {
    /// After the page that it refers to, if any.
    bytes: Vec<u8>,
    pub(crate) values: usize,
    /// Bytes that it claims to unpack to, the page that it refers to among them.
    pub(crate) claimed: usize,
    /// Whether each text repeats the beginning of the one before, so that a page may unpack to any size.
    pub(crate) by_prefixes: bool,
    /// Whether its values stand one after another, each as it is in memory; then how they are packed.
    plain: Option<Packed>,
    unpacked: Vec<u8>,
    context: DecompressionContext,
}

/// Numbers as they are in memory, little-endian.
#[derive(Debug)]
pub(crate) enum Plain<'a> {
    Singles(&'a [[u8; 4]]),
    Doubles(&'a [[u8; 8]]),
}

/// Where the values of a page are and how long they are unpacked.
#[derive(Debug)]
struct Packed {
    body: Range<usize>,
    /// Bytes of levels that stand before the values and are not packed; otherwise they are packed with them.
    levels: Option<usize>,
    packed: bool,
    unpacked: usize,
}

impl Default for RawPage {
    fn default() -> Self {
        let context = DecompressionContext::Unset;
        Self {
            bytes: Vec::new(),
            values: 0,
            claimed: 0,
            by_prefixes: false,
            plain: None,
            unpacked: Vec::new(),
            context,
        }
    }
}

impl ColumnPages {
    pub(crate) fn new(column: &ColumnChunkMetadata, rows: usize, file_bytes: u64) -> Result<Self, String> {
        let left = column.byte_range();
        if left.start > left.end || left.end > file_bytes {
            return Err(format!("a column from byte {} to {} of {file_bytes}", left.start, left.end));
        }
        Ok(Self { left, rows, read: 0, dictionary: Vec::new(), dictionary_bytes: 0, repeated: 0 })
    }

    /// Whether rows of the group are left.
    pub(crate) fn unread(&self) -> bool {
        self.read < self.rows
    }

    /// Reads the next page that holds rows; tells how many bytes of the file that took.
    ///
    /// # Errors
    /// What is wrong with it, in a few words.
    pub(crate) fn next(&mut self, file: &mut (impl Read + Seek), page: &mut RawPage) -> Result<usize, String> {
        let begun = self.left.start;
        loop {
            let (header, before) = self.read_page(file, &mut page.bytes)?;
            let mut packed = Packed {
                body: before..page.bytes.len(),
                levels: None,
                packed: true,
                unpacked: header.uncompressed_page_size as usize,
            };
            let about = match header.type_.try_into().map_err(|_| "a page of an unknown kind")? {
                PageType::DictionaryPage => {
                    let values = header.dictionary_page_header.map(|h| h.num_values);
                    if values.is_none_or(|values| i64::from(values) > i64::from(header.uncompressed_page_size)) {
                        return Err("a page of more values than bytes".to_owned());
                    }
                    std::mem::swap(&mut self.dictionary, &mut page.bytes);
                    self.dictionary_bytes = packed.unpacked;
                    continue;
                }
                PageType::DataPage => header.data_page_header.map(|h| (h.num_values, h.encoding)),
                PageType::DataPageV2 => header.data_page_header_v2.map(|h| {
                    let levels = [h.definition_levels_byte_length, h.repetition_levels_byte_length];
                    packed.levels = Some(levels.iter().map(|n| usize::try_from(*n).unwrap_or(usize::MAX / 4)).sum());
                    packed.packed = h.is_compressed.unwrap_or(true);
                    (h.num_values, h.encoding)
                }),
            };
            let (values, encoding) = about.ok_or("a page without a header of its kind")?;
            let left = self.rows - self.read;
            page.values = usize::try_from(values)
                .ok()
                .filter(|v| *v <= left)
                .ok_or_else(|| format!("a page of {values} values where {left} rows are left of {}", self.rows))?;
            if page.values == 0 {
                continue;
            }
            self.read += page.values;
            let encoding = encoding.try_into();
            page.claimed = packed.unpacked;
            page.by_prefixes = matches!(encoding, Ok(Encoding::DeltaByteArray));
            page.plain = matches!(encoding, Ok(Encoding::Plain)).then_some(packed);
            if matches!(encoding, Ok(Encoding::PlainDictionary | Encoding::RleDictionary)) {
                self.repeated = self.repeated.saturating_add(self.dictionary_bytes);
                if self.repeated > MOST_REPEATED {
                    return Err(format!("a dictionary of {} bytes for many small pages", self.dictionary_bytes));
                }
                page.claimed += self.dictionary_bytes;
                page.bytes.splice(..0, self.dictionary.iter().copied());
            }
            return Ok((self.left.start - begun) as usize);
        }
    }

    /// Reads a page of any kind, and how long its header is.
    fn read_page(
        &mut self,
        file: &mut (impl Read + Seek),
        bytes: &mut Vec<u8>,
    ) -> Result<(ParquetPageHeader, usize), String> {
        let there = usize::try_from(self.left.end - self.left.start).unwrap_or(usize::MAX);
        file.seek(SeekFrom::Start(self.left.start)).map_err(|e| e.to_string())?;
        bytes.resize(there.min(HEADER_BYTES), 0);
        let begun = read_up_to(file, bytes).map_err(|e| e.to_string())?;
        bytes.truncate(begun);
        let mut at = Cursor::new(&bytes[..]);
        let header = ParquetPageHeader::read_from_in_protocol(&mut TCompactInputProtocol::new(&mut at, HEADER_BYTES));
        let header = header.map_err(|e| format!("a page whose header makes no sense: {e}"))?;
        let before = at.position() as usize;
        let of = |claimed: i32| usize::try_from(claimed).ok().filter(|size| *size <= MOST_BYTES);
        let (packed, unpacked) = (header.compressed_page_size, header.uncompressed_page_size);
        let (Some(size), Some(_)) = (of(packed), of(unpacked)) else {
            return Err(format!("a page of {packed} bytes, unpacked {unpacked}, where {MOST_BYTES} are the most"));
        };
        let whole = before + size;
        if whole > there {
            return Err(format!("a page of {size} bytes where {there} are left"));
        }
        if whole > begun {
            let more = file.take((whole - begun) as u64).read_to_end(bytes).map_err(|e| e.to_string())?;
            if begun + more < whole {
                return Err("a page that was cut short".to_owned());
            }
        }
        bytes.truncate(whole);
        // Writers need not sum up their pages; where they do, a changed byte is no number.
        if header.crc.is_some_and(|stated| stated as u32 != crc32fast::hash(&bytes[before..])) {
            return Err("a page whose checksum is wrong".to_owned());
        }
        self.left.start += whole as u64;
        Ok((header, before))
    }
}

impl RawPage {
    /// The bytes of singles or doubles that stand plainly, none missing: in room that is used again. Everything else is the
    /// library's.
    pub(crate) fn plain(&mut self, column: &ColumnChunkMetadata, field: &Field) -> Option<Plain<'_>> {
        let about = &column.descriptor().descriptor;
        let each = match (&field.dtype, about.primitive_type.physical_type) {
            (ArrowDataType::Float32, PhysicalType::Float) => 4,
            (ArrowDataType::Float64, PhysicalType::Double) => 8,
            _ => return None,
        };
        let Packed { body, levels, packed, unpacked } = self.plain.as_ref()?;
        let (before, body) = self.bytes.get(body.clone())?.split_at_checked(levels.unwrap_or(0))?;
        let unpacked = unpacked.checked_sub(before.len())?;
        let values = match column.compression() {
            kind if *packed && kind != Compression::Uncompressed => {
                self.unpacked.resize(unpacked, 0);
                decompress(kind, body, &mut self.unpacked, &mut self.context).ok()?;
                &self.unpacked[..]
            }
            _ => body,
        };
        let values = match levels {
            Some(_) => values,
            None => split_buffer_v1(values, about.max_rep_level > 0, about.max_def_level > 0).ok()?.values,
        };
        if values.len() != self.values * each {
            return None;
        }
        Some(if each == 4 { Plain::Singles(values.as_chunks().0) } else { Plain::Doubles(values.as_chunks().0) })
    }

    /// The values of any page, by the library.
    pub(crate) fn unpack(&mut self, column: &ColumnChunkMetadata, field: &Field) -> PolarsResult<Vec<Box<dyn Array>>> {
        let about = PageMetaData { num_values: self.values as i64, ..PageMetaData::from(column) };
        let bytes = Buffer::from(std::mem::take(&mut self.bytes));
        let pages = PageReader::new_with_page_meta(Cursor::new(bytes), about, Vec::new(), 2 * MOST_BYTES);
        let pages = BasicDecompressor::new(pages, Vec::new());
        let kind = &column.descriptor().descriptor.primitive_type;
        let (arrays, _) = column_iter_to_arrays(vec![pages], vec![kind], field.clone(), None)?;
        let values: usize = arrays.iter().map(|array| array.len()).sum();
        polars_ensure!(values == self.values, ComputeError: "a page of {} values that holds {values}", self.values);
        Ok(arrays)
    }
}
