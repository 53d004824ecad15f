//! stub
use super::model::Picture;
/// The picture in characters.
#[must_use]
pub fn terminal(_picture: &Picture, _colour: bool) -> String {
    String::new()
}
