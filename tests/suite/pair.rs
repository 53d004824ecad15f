//! Balanced pairs: figures of files made elsewhere, closed forms, scikit-rf, and what must hold for any network.

mod closed;
mod figures;
mod model;
mod properties;
mod reference;
