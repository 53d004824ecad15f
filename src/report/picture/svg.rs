//! The picture as SVG 1.1 (W3C), with its colours in classes so that who embeds it can change them.

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::scene::{Form, Kind, Scene, Shape, Step};

/// Colours and strokes. Faults differ from what is sound in weight and in lightness, not only in hue; the hues are apart for
/// every kind of colour vision (blue-grey, ochre, and a dark red-violet).
pub(in super::super) const STYLES: &str = "
svg{background:#fff}
text{font-family:'DejaVu Sans Mono',ui-monospace,monospace;fill:#1d2a35;white-space:pre}
.title{font-weight:bold}.head,.strong{font-weight:bold}
.small,.grey{fill:#55636e}.lost{fill:#55636e;font-style:italic}
.bad{fill:#8a0f4d;font-weight:bold}.light{fill:#fff;font-weight:bold}.alarm{fill:#ffd84d;font-weight:bold}
.plate,.paper{fill:#fff}.field{fill:#f4f7f9;stroke:#8fa0ac}
.casing{fill:none;stroke:#fff;stroke-width:5}
.signal,.ground,.supply,.missing,.wrong,.free,.brace,.frame,.frame-missing{fill:none;stroke-linecap:round}
.signal{stroke:#2f6690;stroke-width:1.8}.ground{stroke:#6d7a84;stroke-width:1.8}
.supply{stroke:#a8740a;stroke-width:2.6}
.missing{stroke:#1d2a35;stroke-width:2.6;stroke-dasharray:.1 6}
.wrong{stroke:#8a0f4d;stroke-width:3.4}
.free{stroke:#9aa7b0;stroke-width:1.2}
.brace{stroke:#55636e;stroke-width:1.2}
.pair{fill:none;stroke:#9db2c1;stroke-width:1;stroke-dasharray:6 3}
.screen{fill:none;stroke:#6d7a84;stroke-width:2.2}
.frame{stroke:#6d7a84;stroke-width:3}.frame-missing{stroke:#6d7a84;stroke-width:3;stroke-dasharray:.1 7}
.node{fill:#1d2a35}.node-wrong{fill:#8a0f4d;stroke:#fff;stroke-width:1}
.contact{fill:#fff;stroke:#2f6690;stroke-width:1.4}.contact-ground{fill:#e3e8ec;stroke:#6d7a84;stroke-width:1.4}
.contact-supply{fill:#f8eccb;stroke:#a8740a;stroke-width:1.8}
.contact-free{fill:#fff;stroke:#9aa7b0;stroke-width:1}
.contact-missing{fill:#fff;stroke:#1d2a35;stroke-width:2;stroke-dasharray:3 2}
.contact-wrong{fill:#fbe3ee;stroke:#8a0f4d;stroke-width:2.6}
.contact-unknown{fill:#fff;stroke:#9aa7b0;stroke-width:1;stroke-dasharray:1.5 2.5}
.mark{fill:#8a0f4d;stroke:#8a0f4d;stroke-width:1.5;stroke-linejoin:round}
.mark-open{fill:#fff;stroke:#8a0f4d;stroke-width:2.4}
.mark-alarm{fill:#1d1d1d;stroke:#1d1d1d;stroke-width:2;stroke-linejoin:round}
.mark-doubt{fill:#fff;stroke:#55636e;stroke-width:1.6;stroke-dasharray:3 2}
.part{fill:#fff;stroke:#1d2a35;stroke-width:1.4}.part-missing{fill:#fff;stroke:#1d2a35;stroke-width:1.6;stroke-dasharray:2 2}
.fails{fill:#8a0f4d}.conforms{fill:#fff;stroke:#1d2a35;stroke-width:2}
.inconclusive{fill:#fff;stroke:#1d2a35;stroke-width:2;stroke-dasharray:5 3}.stop{fill:#1d1d1d}
.rule{stroke:#c9d3da;stroke-width:1;fill:none}
";

/// Writes a scene as an SVG document.
#[must_use]
pub fn svg(scene: &Scene) -> String {
    styled(scene, STYLES)
}

/// The same with other classes.
pub(in super::super) fn styled(scene: &Scene, styles: &str) -> String {
    let mut writer = Writer::new(Vec::with_capacity(64 * 1024));
    // writing into memory can't fail; an empty document would show that it did
    if document(&mut writer, scene, styles).is_err() {
        return String::new();
    }
    String::from_utf8(writer.into_inner()).unwrap_or_default()
}

type Out = Writer<Vec<u8>>;

fn document(out: &mut Out, scene: &Scene, styles: &str) -> std::io::Result<()> {
    let (width, height) = (number(scene.width), number(scene.height));
    out.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    line(out)?;
    let mut root = BytesStart::new("svg");
    root.push_attribute(("xmlns", "http://www.w3.org/2000/svg"));
    root.push_attribute(("width", width.as_str()));
    root.push_attribute(("height", height.as_str()));
    root.push_attribute(("viewBox", format!("0 0 {width} {height}").as_str()));
    root.push_attribute(("xml:space", "preserve"));
    root.push_attribute(("role", "img"));
    root.push_attribute(("direction", "ltr"));
    out.write_event(Event::Start(root))?;
    line(out)?;
    for (name, text) in [("title", scene.title.as_str()), ("desc", &scene.description), ("style", styles)] {
        out.create_element(name).write_text_content(BytesText::new(text))?;
        line(out)?;
    }
    let paper = BytesStart::new("rect").with_attributes([("class", "paper"), ("width", &width), ("height", &height)]);
    out.write_event(Event::Empty(paper))?;
    line(out)?;
    for each in &scene.shapes {
        shape(out, each)?;
        line(out)?;
    }
    out.write_event(Event::End(BytesEnd::new("svg")))?;
    line(out)
}

fn line(out: &mut Out) -> std::io::Result<()> {
    out.write_event(Event::Text(BytesText::new("\n")))
}

fn shape(out: &mut Out, shape: &Shape) -> std::io::Result<()> {
    let bounds = shape.bounds;
    match &shape.form {
        Form::Rect { radius } => {
            let mut rect = BytesStart::new("rect");
            rect.push_attribute(("class", shape.class));
            let sizes = [
                ("x", bounds.x0),
                ("y", bounds.y0),
                ("width", bounds.x1 - bounds.x0),
                ("height", bounds.y1 - bounds.y0),
                ("rx", *radius),
            ];
            for (name, size) in sizes {
                rect.push_attribute((name, number(size).as_str()));
            }
            out.write_event(Event::Empty(rect))
        }
        Form::Path(steps) => {
            let way = way(steps);
            // a light edge keeps lines apart where they cross
            if shape.kind == Kind::Line && matches!(shape.class, "signal" | "ground" | "supply" | "wrong") {
                let casing = BytesStart::new("path").with_attributes([("class", "casing"), ("d", way.as_str())]);
                out.write_event(Event::Empty(casing))?;
            }
            let path = BytesStart::new("path").with_attributes([("class", shape.class), ("d", way.as_str())]);
            out.write_event(Event::Empty(path))
        }
        Form::Text { text, baseline, size } => {
            let mut start = BytesStart::new("text");
            start.push_attribute(("class", shape.class));
            start.push_attribute(("x", number(bounds.x0).as_str()));
            start.push_attribute(("y", number(*baseline).as_str()));
            start.push_attribute(("font-size", number(*size).as_str()));
            // whatever face a viewer has, the text keeps to its place
            start.push_attribute(("textLength", number(bounds.x1 - bounds.x0).as_str()));
            start.push_attribute(("lengthAdjust", "spacingAndGlyphs"));
            out.write_event(Event::Start(start))?;
            out.write_event(Event::Text(BytesText::new(text)))?;
            out.write_event(Event::End(BytesEnd::new("text")))
        }
    }
}

fn way(steps: &[Step]) -> String {
    let mut way = String::with_capacity(steps.len() * 16);
    for step in steps {
        let (letter, numbers): (char, &[f64]) = match step {
            Step::Move(x, y) => ('M', &[*x, *y]),
            Step::Line(x, y) => ('L', &[*x, *y]),
            Step::Curve(points) => ('C', points),
            Step::Close => ('Z', &[]),
        };
        way.push(letter);
        for (nth, value) in numbers.iter().enumerate() {
            if nth > 0 {
                way.push(' ');
            }
            way.push_str(&number(*value));
        }
    }
    way
}

/// A length to a tenth of a pixel.
fn number(value: f64) -> String {
    let text = format!("{value:.1}");
    match text.strip_suffix(".0") {
        Some("-0") => "0".to_owned(),
        Some(whole) => whole.to_owned(),
        None => text,
    }
}
