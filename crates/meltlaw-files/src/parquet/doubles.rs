//! Whatever kind of numbers a column holds, as doubles.

use polars_arrow::array::{Array, Float64Array};
use polars_arrow::datatypes::ArrowDataType;
use polars_compute::cast::cast_default;
use polars_error::PolarsResult;

/// Numbers of any kind as doubles, with `None` where one is missing; points in time, times of day and durations as
/// what they count in.
pub(crate) fn as_doubles(array: &dyn Array) -> PolarsResult<Float64Array> {
    use ArrowDataType as A;
    let counts = match array.dtype() {
        A::Timestamp(..) | A::Duration(_) | A::Time64(_) | A::Date64 => Some(A::Int64),
        A::Time32(_) | A::Date32 => Some(A::Int32),
        _ => None,
    };
    let counted = counts.map(|kind| cast_default(array, &kind)).transpose()?;
    let doubles = cast_default(counted.as_deref().unwrap_or(array), &A::Float64)?;
    let doubles = doubles.as_any().downcast_ref::<Float64Array>();
    Ok(doubles.expect("a cast to doubles gives doubles").clone())
}
