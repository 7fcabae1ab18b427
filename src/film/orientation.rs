//! Patient Orientation (0020,0020), PS3.3 C.7.6.1.1.1.

use super::{ImageEdge, View};

/// How a film hangs in the file, as far as Patient Orientation says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Orientation {
    /// Coronal: edge of the patient's left, seen head up.
    pub left_on: Option<ImageEdge>,
    /// Lateral: edge toward which the patient faces, seen head up.
    pub anterior_on: Option<ImageEdge>,
    /// Edge of the head.
    pub head_on: Option<ImageEdge>,
    /// Lateral view, if the letters show one.
    pub view: Option<View>,
}

/// Reads the two values of Patient Orientation: the direction of increasing column and of
/// increasing row. `L\F` is head up with the patient's left on the image's right.
///
/// Only the first letter of each value counts. Values that do not name head or foot along one
/// axis and a side along the other leave everything unknown.
#[must_use]
pub fn orientation_of(values: &[&str]) -> Orientation {
    let letter = |i: usize| values.get(i).and_then(|v| v.trim().chars().next());
    let (Some(column), Some(row)) = (letter(0), letter(1)) else {
        return Orientation::default();
    };
    let vertical = |c: char| matches!(c, 'H' | 'F');
    // Which image edge each axis points to as its index grows.
    let (head_axis, side_axis, head_edges, side_letter) = if vertical(row) && !vertical(column) {
        (
            row,
            column,
            [ImageEdge::ImageTop, ImageEdge::ImageBottom],
            column,
        )
    } else if vertical(column) && !vertical(row) {
        (
            column,
            row,
            [ImageEdge::ImageLeft, ImageEdge::ImageRight],
            row,
        )
    } else {
        return Orientation::default();
    };
    let head_on = if head_axis == 'F' {
        head_edges[0]
    } else {
        head_edges[1]
    };
    // Seen head up, does the side axis grow toward the viewer's right?
    let grows_right = match head_on {
        ImageEdge::ImageTop => true,
        ImageEdge::ImageBottom => false,
        // Rows grow downward; with the head on the left edge the image's top is the viewer's right.
        ImageEdge::ImageLeft => false,
        ImageEdge::ImageRight => true,
    };
    let far = if grows_right {
        ImageEdge::ImageRight
    } else {
        ImageEdge::ImageLeft
    };
    let near = if grows_right {
        ImageEdge::ImageLeft
    } else {
        ImageEdge::ImageRight
    };
    let mut out = Orientation {
        head_on: Some(head_on),
        ..Orientation::default()
    };
    match side_letter {
        'L' => out.left_on = Some(far),
        'R' => out.left_on = Some(near),
        'A' => out.anterior_on = Some(far),
        'P' => out.anterior_on = Some(near),
        _ => return Orientation::default(),
    }
    let _ = side_axis;
    if out.anterior_on.is_some() {
        out.view = Some(View::Lateral);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use ImageEdge::{ImageBottom, ImageLeft, ImageRight, ImageTop};

    #[test]
    fn letters_name_the_directions_of_growth() {
        let o = |a, b| orientation_of(&[a, b]);
        assert_eq!(
            (o("L", "F").left_on, o("L", "F").head_on),
            (Some(ImageRight), Some(ImageTop))
        );
        assert_eq!(o("R", "F").left_on, Some(ImageLeft));
        assert_eq!(
            (o("A", "F").anterior_on, o("A", "F").view),
            (Some(ImageRight), Some(View::Lateral))
        );
        assert_eq!(o("PL", "FP").anterior_on, Some(ImageLeft));
        // Turned by half a turn: the same patient, seen head up, hangs the same way.
        assert_eq!(
            (o("R", "H").left_on, o("R", "H").head_on),
            (Some(ImageRight), Some(ImageBottom))
        );
        // On its side: columns run to the foot, rows to the patient's right.
        assert_eq!(
            (o("F", "R").left_on, o("F", "R").head_on),
            (Some(ImageRight), Some(ImageLeft))
        );
        assert_eq!(
            (o("H", "L").left_on, o("H", "L").head_on),
            (Some(ImageRight), Some(ImageRight))
        );
        for none in [["L", ""], ["L", "P"], ["F", "H"], ["X", "F"]] {
            assert_eq!(orientation_of(&none), Orientation::default());
        }
    }
}
