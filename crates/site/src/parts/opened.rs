//! Pages that were opened, in words: what is noted is a route, never an address with a name in it.

/// The page of a route.
pub(crate) fn opened(route: &str) -> &str {
    match route {
        "/" => "Today, of everybody",
        "/people" => "People, of everybody",
        "/follow-up" => "Follow-up, of everybody",
        "/watching" => "Watching, of everybody",
        "/plan" | "/plan/proposed" => "Plan, of everybody",
        "/timetable" => "Timetable, of everybody",
        "/people/{id}" => "Record",
        "/people/{id}/after" => "Draws beside their results",
        "/papers/{kind}/{file}" => "Record on paper",
        "/plan/calendars/{job}/{file}" => "Calendar",
        "/signing" => "Signing",
        "/timetable/date" => "Setting a date",
        "/confidence" => "How sure they are",
        "/practice/{code}" => "Practice, with what was missed",
        "/teach-back/new" | "/teach-back/transcript" => "Form of a teach-back",
        "/teach-back/{entry}" => "A teach-back",
        "/observe/new" => "Form of a draw",
        "/observe/{entry}" => "A draw",
        other => other,
    }
}
