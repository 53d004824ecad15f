//! In place of `links`, where the crate is built without the feature `signal`.

use maud::Markup;

use super::views::UnitView;

/// Nothing, since no lane is read.
pub(super) fn of_unit(_: &UnitView, _: bool) -> Option<Markup> {
    None
}
