//! Every action once: name, key, explanation. Menu, tooltip, shortcut and help come from here.

use eframe::egui::{Key, KeyboardShortcut, Modifiers};

/// What can be done; the table below explains each.
#[allow(missing_docs)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    OpenCase,
    NewCase,
    AddFilms,
    Facts,
    Choices,
    CopyTable,
    CopyCells,
    CloseCase,
    Undo,
    Redo,
    Delete,
    Measure,
    Compare,
    Skip,
    Back,
    Place,
    EndWalk,
    Refine,
    AutoRefine,
    Carry,
    Propose,
    Accept,
    Walk(usize),
    NowEarlier,
    NowLater,
    ThenEarlier,
    ThenLater,
    OtherPlane,
    Four,
    Straight,
    Overlay,
    Fit,
    FullSize,
    NextWindow,
    BoneWindow,
    Invert,
    LocalContrast,
    Edges,
    TurnByPlumb,
    LinkPans,
    Lines,
    Theme,
    Larger,
    Smaller,
    Help,
    About,
}

/// The menus in order.
pub const MENUS: [&str; 4] = ["Case", "Marks", "View", "Help"];

const CTRL: Modifiers = Modifiers::COMMAND;
const NONE: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const CTRL_SHIFT: Modifiers = Modifiers {
    shift: true,
    ..Modifiers::COMMAND
};

/// Action, menu, name, modifiers, key, explanation.
pub type Entry = (
    Action,
    &'static str,
    &'static str,
    Modifiers,
    Key,
    &'static str,
);

/// The table.
#[rustfmt::skip]
pub const ACTIONS: [Entry; 54] = [
    (Action::OpenCase, "Case", "Open case…", CTRL, Key::O, "Open the folder of a case"),
    (Action::NewCase, "Case", "New case from films…", CTRL, Key::N, "Choose films; they are copied into a new case"),
    (Action::AddFilms, "Case", "Add films…", CTRL, Key::I, "Add films to this case"),
    (Action::Facts, "Case", "Film facts…", NONE, Key::E, "Date, phase, weight, side and scale of the film now"),
    (Action::Choices, "Case", "Reader, cause, choices…", SHIFT, Key::E, "Who reads, the cause of the deformity, and what to use where sources differ"),
    (Action::CopyTable, "Case", "Copy the comparison", CTRL_SHIFT, Key::C, "Copy the comparison as text, as the command line prints it"),
    (Action::CopyCells, "Case", "Copy as cells for a spreadsheet", CTRL_SHIFT, Key::X, "Copy every row of the comparison in full precision, cells apart by tabs"),
    (Action::CloseCase, "Case", "Close case", CTRL, Key::W, "Back to the start page; everything is saved"),
    (Action::Undo, "Marks", "Undo", CTRL, Key::Z, "Take the last change back"),
    (Action::Redo, "Marks", "Redo", CTRL_SHIFT, Key::Z, "Bring it back"),
    (Action::Measure, "Marks", "Measure", NONE, Key::M, "The film now alone, for marking"),
    (Action::Compare, "Marks", "Compare", NONE, Key::C, "Then and now side by side"),
    (Action::Place, "Marks", "Place the mark here", NONE, Key::Enter, "Place the next mark at the cross moved by the arrow keys"),
    (Action::Refine, "Marks", "Refine end-plates on the film", NONE, Key::R, "Move the marked end-plates of the film now onto those the film shows; undo brings them back"),
    (Action::AutoRefine, "Marks", "Refine each plate on release", SHIFT, Key::R, "Each end-plate is refined as soon as both its ends stand; on or off"),
    (Action::Carry, "Marks", "Carry marks from then to now", NONE, Key::G, "Propose the marks of the film then on the film now; plates and centres marked there are hints"),
    (Action::Propose, "Marks", "Propose every end-plate", NONE, Key::U, "Propose every level between marked ends of the spine: C7 or T1, and S1"),
    (Action::Accept, "Marks", "Accept proposals", NONE, Key::A, "Accept the chosen proposed mark, or all of the film now after a look"),
    (Action::Skip, "Marks", "Skip this mark", NONE, Key::N, "Go on to the next mark"),
    (Action::Back, "Marks", "Back one mark", NONE, Key::Backspace, "Go back to the mark before"),
    (Action::Delete, "Marks", "Delete the chosen mark", NONE, Key::Delete, "Delete the chosen mark"),
    (Action::EndWalk, "Marks", "Step back", NONE, Key::Escape, "End the walk, or let the chosen mark go; nothing is lost"),
    (Action::Walk(0), "Marks", "Mark a curve", CTRL, Key::Num1, "The two end-plates of a curve"),
    (Action::Walk(1), "Marks", "Mark every end-plate", CTRL, Key::Num2, "T1 to S1"),
    (Action::Walk(2), "Marks", "Mark balance", CTRL, Key::Num3, "C7, rib cage and sacrum"),
    (Action::Walk(3), "Marks", "Mark shoulders", CTRL, Key::Num4, "Collar bones, shoulders, coracoids"),
    (Action::Walk(4), "Marks", "Mark apex ribs", CTRL, Key::Num5, "Ribs about the apex"),
    (Action::Walk(5), "Marks", "Mark pelvis", CTRL, Key::Num6, "Crests and hips"),
    (Action::Walk(6), "Marks", "Mark rotation", CTRL, Key::Num7, "Pedicles of the apex"),
    (Action::Walk(7), "Marks", "Calibrate", CTRL, Key::Num8, "The two ends of a known length"),
    (Action::Walk(8), "Marks", "Mark the plumb line", CTRL, Key::Num9, "Top and bottom of the true vertical"),
    (Action::NowEarlier, "View", "Now: the film before", NONE, Key::Comma, "Step the film now back"),
    (Action::NowLater, "View", "Now: the next film", NONE, Key::Period, "Step the film now on"),
    (Action::ThenEarlier, "View", "Then: the film before", SHIFT, Key::Comma, "Step the film then back"),
    (Action::ThenLater, "View", "Then: the next film", SHIFT, Key::Period, "Step the film then on"),
    (Action::OtherPlane, "View", "Other plane", NONE, Key::V, "PA or lateral films of the same dates"),
    (Action::Four, "View", "Two films or four", NONE, Key::Num4, "Two films between then and now as well: best traction and after fusion, or evenly spaced"),
    (Action::Straight, "View", "Straighten along the spine", NONE, Key::S, "The film laid out along its marked or proposed plates, which then lie level; marks made there land on the film"),
    (Action::Overlay, "View", "Now laid over then", NONE, Key::O, "Both films in one, laid on the sacrum or another level at one scale, with a slider between them"),
    (Action::Fit, "View", "Fit", NONE, Key::F, "Whole films, both at the same scale"),
    (Action::FullSize, "View", "100 %", NONE, Key::Num1, "One film pixel to one screen pixel"),
    (Action::NextWindow, "View", "Next window of the file", NONE, Key::W, "The windows and tables that the file carries, in turn"),
    (Action::BoneWindow, "View", "Bone window", NONE, Key::B, "A window over the spine's own grey"),
    (Action::Invert, "View", "Invert", NONE, Key::I, "Black for white"),
    (Action::LocalContrast, "View", "Local contrast", NONE, Key::L, "Even out bright and dark parts"),
    (Action::Edges, "View", "Edge emphasis", NONE, Key::D, "Bring out the edges of what is seen"),
    (Action::TurnByPlumb, "View", "Upright by the plumb line", NONE, Key::P, "Turn the film so that its marked plumb line is upright"),
    (Action::LinkPans, "View", "Link the two films", NONE, Key::K, "Pan and zoom both films together"),
    (Action::Lines, "View", "Lines and marks", NONE, Key::H, "Show or hide what is drawn on the films"),
    (Action::Theme, "View", "Light or dark", NONE, Key::T, "Light for projectors, dark for the reading room"),
    (Action::Larger, "View", "Larger text", CTRL, Key::Plus, "Larger text and lines"),
    (Action::Smaller, "View", "Smaller text", CTRL, Key::Minus, "Smaller text and lines"),
    (Action::Help, "Help", "Keys", NONE, Key::F1, "Every key"),
    (Action::About, "Help", "About", NONE, Key::F2, "What this is, and what it is not"),
];

/// The shortcut of an entry.
pub fn shortcut(entry: &Entry) -> KeyboardShortcut {
    KeyboardShortcut::new(entry.3, entry.4)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every action has a key of its own and stands in a menu.
    #[test]
    fn keys_are_unique() {
        for (i, a) in ACTIONS.iter().enumerate() {
            assert!(MENUS.contains(&a.1), "{}", a.2);
            for b in &ACTIONS[i + 1..] {
                assert!(shortcut(a) != shortcut(b), "{} and {}", a.2, b.2);
                assert!(a.0 != b.0);
            }
        }
    }
}
