//! What plotters draws on: it hands over lines and texts in tenths of a pixel, which become shapes of a scene.

use std::convert::Infallible;

use plotters::style::text_anchor::{HPos, VPos};
use plotters_backend::{BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind};

use super::ink::{TICK, class_of};
use super::picture::{Bounds, Kind, Scene, Step, Style, cells};

/// Tenths of a pixel.
pub(super) const SUB: f64 = 10.0;

/// A scene that plotters draws on.
pub(super) struct SceneBackend<'a> {
    /// Where the shapes go.
    pub(super) scene: &'a mut Scene,
    /// Width and height in tenths of a pixel.
    pub(super) size: (u32, u32),
}

type Done = Result<(), DrawingErrorKind<Infallible>>;

fn pixels(at: BackendCoord) -> (f64, f64) {
    (f64::from(at.0) / SUB, f64::from(at.1) / SUB)
}

impl SceneBackend<'_> {
    fn way(&mut self, kind: Kind, class: &'static str, way: impl IntoIterator<Item = BackendCoord>, close: bool) {
        let mut steps: Vec<Step> = Vec::new();
        let mut last = None;
        // points that fall on the same tenth of a pixel are one
        for at in way.into_iter().filter(|at| last.replace(*at) != Some(*at)) {
            let (x, y) = pixels(at);
            steps.push(if steps.is_empty() { Step::Move(x, y) } else { Step::Line(x, y) });
        }
        if close {
            steps.push(Step::Close);
        }
        if steps.len() > 1 {
            self.scene.path(kind, class, steps);
        }
    }
}

impl DrawingBackend for SceneBackend<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Done {
        Ok(())
    }

    fn present(&mut self) -> Done {
        Ok(())
    }

    fn draw_pixel(&mut self, at: BackendCoord, color: BackendColor) -> Done {
        let (x, y) = pixels(at);
        self.scene.rect(Kind::Frame, class_of(color.rgb), Bounds::around(x, y, 1.0, 1.0), 0.0);
        Ok(())
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Done {
        self.way(Kind::Line, class_of(style.color().rgb), [from, to], false);
        Ok(())
    }

    fn draw_rect<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S, _fill: bool) -> Done {
        let ((x0, y0), (x1, y1)) = (pixels(from), pixels(to));
        let bounds = Bounds { x0: x0.min(x1), y0: y0.min(y1), x1: x0.max(x1), y1: y0.max(y1) };
        self.scene.rect(Kind::Frame, class_of(style.color().rgb), bounds, 0.0);
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, style: &S) -> Done {
        self.way(Kind::Line, class_of(style.color().rgb), path, false);
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, style: &S) -> Done {
        self.way(Kind::Frame, class_of(style.color().rgb), path, true);
        Ok(())
    }

    fn draw_text<T: BackendTextStyle>(&mut self, text: &str, style: &T, at: BackendCoord) -> Done {
        let (x, y) = pixels(at);
        let face = Style::LABEL.class(TICK.class);
        let width = face.width(cells(text));
        let left = match style.anchor().h_pos {
            HPos::Left => x,
            HPos::Center => x - width / 2.0,
            HPos::Right => x - width,
        };
        let middle = match style.anchor().v_pos {
            VPos::Top => y + face.size / 2.0,
            VPos::Center => y,
            VPos::Bottom => y - face.size / 2.0,
        };
        self.scene.text(Kind::Text, face, left, middle, text);
        Ok(())
    }

    fn estimate_text_size<T: BackendTextStyle>(
        &self,
        text: &str,
        _style: &T,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        // a character is 0.6 times its size wide; sizes are whole pixels
        let wide = u32::try_from(cells(text)).unwrap_or(u32::MAX / 100);
        Ok((wide * 66, 110))
    }
}
