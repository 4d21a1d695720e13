//! What the pages of a Parquet file claim to hold, looked at before anything is unpacked: a damaged header may ask for more
//! memory than there is, which no program survives.

use std::io::Cursor;

use polars_buffer::Buffer;
use polars_parquet::parquet::metadata::ColumnChunkMetadata;
use polars_parquet::parquet::page::CompressedPage;
use polars_parquet::parquet::read::PageReader;

/// Most bytes of a value with what goes along with it, and what a page holds besides.
const VALUE_BYTES: usize = 16;
const PAGE_BYTES: usize = 1 << 20;

/// Whether the pages of one column hold as many values as the group has rows.
///
/// # Errors
/// What is wrong with them, in a few words.
pub(super) fn check_pages(file: &Buffer<u8>, column: &ColumnChunkMetadata, rows: usize) -> Result<(), String> {
    let (range, length) = (column.byte_range(), file.len() as u64);
    if range.start > range.end || range.end > length {
        return Err(format!("a column from byte {} to {} of {length}", range.start, range.end));
    }
    // A part of the file, no copy.
    let bytes = file.clone().sliced(range.start as usize..range.end as usize);
    let most = rows * VALUE_BYTES + PAGE_BYTES;
    let mut values = 0_usize;
    for page in PageReader::new(Cursor::new(bytes), column, Vec::new(), most) {
        // A dictionary's header is out of reach; its size has 31 bits, its values are no more than its bytes.
        let CompressedPage::Data(page) = page.map_err(|e| e.to_string())? else { continue };
        let (here, unpacked) = (page.num_values(), page.uncompressed_size());
        if here > rows || unpacked > most {
            return Err(format!("a page of {here} values and {unpacked} bytes in a group of {rows} rows"));
        }
        values += here;
    }
    if values == rows { Ok(()) } else { Err(format!("{values} values in a group of {rows} rows")) }
}
