//! What is looked at and how: nothing here changes the plan.

use bevy::prelude::Resource;

/// How the plan is shown.
#[derive(Clone, Debug, PartialEq, Resource)]
pub struct View {
    /// How many steps of the plan are done: 0 is the untouched bone, one for each reamer, and one
    /// more for the cup.
    pub step: usize,
    /// How far the tool of this step still is from its place: 0 is there, 1 outside the bone.
    pub away: f32,
    /// Whether the tool is on its way in.
    pub playing: bool,
    /// Which numbers colour the surfaces.
    pub map: Map,
    /// The section plane.
    pub section: Section,
    /// How the bone is drawn.
    pub bone: BoneLook,
    /// Reamer and cup are drawn at their place.
    pub tools: bool,
    /// From where.
    pub from: From,
    /// Larger text, for the back of a room.
    pub projector: bool,
    /// The plan's panel is open.
    pub plan_panel: bool,
    /// The answers' panel is open.
    pub answers_panel: bool,
    /// The page of answers, and of the fields that belong to it.
    pub page: Page,
    /// Where screws go is drawn over the picture on the page of the hold.
    pub screws: bool,
    /// The window in front, if any.
    pub window: Option<Window>,
    /// The list of what changed against the kept plan is open.
    pub compare: bool,
    /// Handles to drag are drawn.
    pub handles: bool,
    /// Bar, panels and steps are drawn around the picture.
    pub is_bench: bool,
}

/// Numbers that colour a surface.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Map {
    /// None: bone is bone, metal is metal.
    #[default]
    Plain,
    /// Bone left behind the cavity.
    Wall,
    /// Bone taken away to reach the cavity.
    Depth,
    /// Where the cup's surface lies in bone.
    Coverage,
    /// How far from the cup's surface bone begins.
    Gap,
}

impl Map {
    /// All of them, in the order of the menu.
    pub const ALL: [Self; 5] = [
        Self::Plain,
        Self::Wall,
        Self::Depth,
        Self::Coverage,
        Self::Gap,
    ];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Plain => "no map",
            Self::Wall => "wall left",
            Self::Depth => "depth of cut",
            Self::Coverage => "cup in bone",
            Self::Gap => "gap behind cup",
        }
    }

    /// What it means.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Plain => "Bone and metal in their own colours.",
            Self::Wall => {
                "On the cavity: bone left behind it, along the ray from the reamer's centre, in mm."
            }
            Self::Depth => {
                "On the cavity: bone taken away to reach it, along the ray from the reamer's centre, in mm."
            }
            Self::Coverage => {
                "On the cup: where its round side lies in bone that the reamers left, and by how much, in mm."
            }
            Self::Gap => {
                "On the cup: from its round side outward to the first bone that the reamers left, in mm."
            }
        }
    }

    /// Whether it colours the cup and not the cavity.
    pub fn is_on_cup(self) -> bool {
        matches!(self, Self::Coverage | Self::Gap)
    }
}

/// A page of answers.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Page {
    /// Reaming, walls and coverage.
    #[default]
    Socket,
    /// Press-fit, bone that is left, screws.
    Hold,
    /// Liner, ball, leg length and motion.
    Joint,
}

impl Page {
    /// All of them, in the order of their buttons.
    pub const ALL: [Self; 3] = [Self::Socket, Self::Hold, Self::Joint];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Socket => "socket",
            Self::Hold => "hold",
            Self::Joint => "joint",
        }
    }

    /// What it answers.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Socket => "Reaming, walls, rim and coverage",
            Self::Hold => "Will it hold: press-fit, bone that is left, screws",
            Self::Joint => "Does the joint come back: liner, ball, leg length, offset, motion",
        }
    }
}

/// A plane through the cup's axis that takes away the near half.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Section {
    /// Whether it is on.
    pub on: bool,
    /// The hour of the rim clock that the plane runs through, and the hour opposite.
    pub hour: f64,
    /// Take away the other half.
    pub other_half: bool,
}

/// How the bone is drawn.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum BoneLook {
    /// Solid.
    #[default]
    Solid,
    /// One can see through it.
    Glass,
    /// Not at all.
    Hidden,
}

/// A direction to look from.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum From {
    /// Straight from the front.
    Anterior,
    /// From the patient's side.
    Lateral,
    /// From the midline.
    Medial,
    /// From behind.
    Posterior,
    /// Into the socket, along the cup's axis.
    #[default]
    Socket,
    /// Square to the section plane.
    Section,
    /// Wherever the camera was turned to by hand.
    Free,
}

impl From {
    /// Those that have a name of their own.
    pub const NAMED: [Self; 6] = [
        Self::Anterior,
        Self::Lateral,
        Self::Medial,
        Self::Posterior,
        Self::Socket,
        Self::Section,
    ];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Anterior => "anterior",
            Self::Lateral => "lateral",
            Self::Medial => "medial",
            Self::Posterior => "posterior",
            Self::Socket => "socket",
            Self::Section => "section",
            Self::Free => "free",
        }
    }
}

/// A window in front of the scene.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Window {
    /// The first steps, and every key.
    Help,
    /// Choose a file to open.
    Open,
    /// Choose where to save.
    Save,
    /// Choose a lesson.
    Lessons,
    /// Choose a bone.
    Bone,
    /// Leave with changes that are not saved, or stay.
    Leave,
}

impl Default for View {
    fn default() -> Self {
        Self {
            step: usize::MAX,
            away: 0.0,
            playing: false,
            map: Map::default(),
            section: Section::default(),
            bone: BoneLook::default(),
            tools: true,
            from: From::default(),
            projector: false,
            plan_panel: true,
            answers_panel: true,
            page: Page::default(),
            screws: true,
            window: None,
            compare: false,
            handles: true,
            is_bench: true,
        }
    }
}

impl View {
    /// How many of a plan's reamers are in or under way at the current step.
    pub fn reamers(&self, reamers: usize) -> usize {
        self.step.min(reamers)
    }

    /// Whether the cup is in or under way.
    pub fn shows_cup(&self, reamers: usize) -> bool {
        self.step > reamers
    }

    /// Goes to a step of a plan with so many reamers.
    pub fn go_to(&mut self, step: usize, reamers: usize) {
        self.step = step.min(reamers + 1);
        self.away = 0.0;
        self.playing = false;
    }
}
