//! Pictures of measured curves: loss against its limit, impedance along the cable, the eye.
//!
//! They know figures and words, not where these come from: whoever has worked something out fills in a [`LossPicture`], a
//! [`ProfilePicture`] or an [`EyePicture`], takes its [`Scene`](super::picture::Scene) and writes it with [`plot_svg`].
//! Axes and their steps come from the crate plotters; what it draws becomes shapes of ours.
//!
//! A figure that isn't finite, or whose size is above 1e30, is left out of the picture, and the picture says how many are.

mod axis;
mod backend;
mod chart;
mod curve;
mod eye;
mod ink;
mod loss;
mod profile;

use super::picture;

pub use curve::Curve;
pub use eye::EyePicture;
pub(super) use ink::STYLES;
pub use ink::plot_svg;
pub use loss::{Limit, LossPicture, Side};
pub use profile::{ProfilePicture, Spot};
