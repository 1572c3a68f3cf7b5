//! The lesson that is open, and its page.

use bevy::prelude::Resource;
use cupwright_procedure::lesson::Lesson;

/// The lesson that is open, if any.
#[derive(Debug, Default, Resource)]
pub struct Course {
    /// The lesson.
    pub lesson: Option<Lesson>,
    /// The page, counted from 0.
    pub page: usize,
}

impl Course {
    /// Opens a lesson at its first page.
    pub fn begin(&mut self, lesson: Lesson) {
        self.lesson = Some(lesson);
        self.page = 0;
    }

    /// Turns so many pages; stays within the lesson.
    pub fn turn(&mut self, pages: isize) {
        let last = self
            .lesson
            .as_ref()
            .map_or(0, |l| l.steps.len().saturating_sub(1));
        self.page = self.page.saturating_add_signed(pages).min(last);
    }

    /// Closes the lesson; the plan stays.
    pub fn leave(&mut self) {
        *self = Self::default();
    }
}
