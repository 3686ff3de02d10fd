//! The invented people of the unit and how far each one's story goes.

use jiff::civil::{Date, date};
use practice::{Person, PersonId, Role};

use crate::cast::{BACK_FROM_LEAVE, DECISION_DUE, NIGHTS_ONLY, SAFETY_POINT_MISSED, TWO_OF_FIVE};

/// Hours a person works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hours {
    /// Day shifts only.
    Days,
    /// Night shifts only.
    Nights,
    /// Two weeks of days, then two weeks of nights.
    Turning,
    /// Monday to Wednesday, days.
    EarlyWeek,
    /// Wednesday to Friday; one week in four at night.
    LateWeek,
}

/// How far a person's story in one job has come by today.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum End {
    /// On the timetable, nothing else yet.
    Planned,
    /// The job was demonstrated.
    Demonstrated,
    /// A teach-back was heard, and a safety point said wrong.
    TeachBackIncomplete,
    /// So many observed draws that count.
    Draws(u8),
    /// Five observed draws, but a safety point missed on the fourth.
    SafetyPointMissed,
    /// Everything the rule asks is there; the trainer has not decided.
    Waiting,
    /// Released to the patients assigned to them.
    OwnPatients,
    /// Released to every patient.
    AllPatients,
    /// Released to every patient and to watching learners.
    MayPrecept,
}

/// One job on one person's timetable.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Plan {
    /// Day on which the job was put on the timetable.
    pub(crate) planned: Date,
    /// Where the story has come to.
    pub(crate) end: End,
    /// First day on which the last draw of the story may fall, so that it is recent.
    pub(crate) last_draw_from: Option<Date>,
}

/// A person with what only the story knows about them.
#[derive(Debug, Clone)]
pub(crate) struct Member {
    pub(crate) person: Person,
    pub(crate) hours: Hours,
    /// Away from this day to that day.
    pub(crate) away: Option<(Date, Date)>,
    pub(crate) vein: Plan,
    pub(crate) line: Option<Plan>,
}

/// Name of the first area, in the laboratory's words.
pub const NORTH: &str = "LCCU North";
/// Name of the second area.
pub const SOUTH: &str = "LCCU South";
/// Name of the area whose sets reach the same laboratory but which has no staff of its own here.
pub const STEP_DOWN: &str = "LCCU Step-down";

/// Staff identifier of the person with this number.
pub(crate) fn id(number: usize) -> PersonId {
    PersonId(format!("n{number:03}"))
}

/// Place of a person in the list of members.
pub(crate) fn index(number: usize) -> usize {
    number - 1
}

/// Waves in which the staff of before the training learned it.
const WAVE_ONE: Date = date(2026, 1, 5);
const WAVE_TWO: Date = date(2026, 2, 9);
const WAVE_THREE: Date = date(2026, 3, 16);

type Row = (&'static str, Role, &'static str, Hours, Date, Date, End);

/// Name, role, area, hours, first day, day planned for vein draws, end of that story. All names are made up.
const ROWS: [Row; 46] = [
    (
        "Odile Brackmoor",
        Role::Trainer,
        NORTH,
        Hours::EarlyWeek,
        date(2013, 9, 2),
        date(2025, 11, 3),
        End::MayPrecept,
    ),
    (
        "Idris Kalloran",
        Role::Trainer,
        SOUTH,
        Hours::LateWeek,
        date(2015, 4, 13),
        date(2025, 11, 3),
        End::MayPrecept,
    ),
    (
        "Tamsin Velloway",
        Role::Preceptor,
        NORTH,
        Hours::Days,
        date(2011, 2, 7),
        date(2025, 11, 10),
        End::MayPrecept,
    ),
    (
        "Devraj Thanpurel",
        Role::Preceptor,
        NORTH,
        Hours::Days,
        date(2016, 10, 3),
        date(2025, 11, 10),
        End::MayPrecept,
    ),
    (
        "Ifeoma Dantresse",
        Role::Preceptor,
        NORTH,
        Hours::Turning,
        date(2017, 1, 16),
        date(2025, 11, 17),
        End::MayPrecept,
    ),
    (
        "Mattias Ostergard-Lunt",
        Role::Preceptor,
        NORTH,
        Hours::Turning,
        date(2018, 6, 4),
        date(2025, 11, 24),
        End::MayPrecept,
    ),
    (
        "Lucia Marvento",
        Role::Preceptor,
        SOUTH,
        Hours::Days,
        date(2012, 11, 5),
        date(2025, 11, 10),
        End::MayPrecept,
    ),
    (
        "Kwabena Asolfi",
        Role::Preceptor,
        SOUTH,
        Hours::Turning,
        date(2019, 3, 11),
        date(2025, 11, 17),
        End::MayPrecept,
    ),
    (
        "Greta Lindhollow",
        Role::Preceptor,
        SOUTH,
        Hours::Turning,
        date(2014, 8, 18),
        date(2025, 11, 17),
        End::MayPrecept,
    ),
    (
        "Yusuf Emrevan",
        Role::Preceptor,
        SOUTH,
        Hours::Days,
        date(2018, 2, 19),
        date(2025, 11, 24),
        End::MayPrecept,
    ),
    ("Piotr Wendelskar", Role::Nurse, NORTH, Hours::Days, date(2016, 5, 9), WAVE_ONE, End::AllPatients),
    ("Saoirse Quillane", Role::Nurse, NORTH, Hours::Turning, date(2019, 9, 16), WAVE_ONE, End::AllPatients),
    ("Hana Mirosata", Role::Nurse, NORTH, Hours::Turning, date(2020, 1, 27), WAVE_ONE, End::AllPatients),
    ("Marisol Quintavega", Role::Nurse, NORTH, Hours::Days, date(2021, 6, 14), WAVE_ONE, End::AllPatients),
    ("Callum Strathwick", Role::Nurse, SOUTH, Hours::Turning, date(2017, 7, 3), WAVE_TWO, End::AllPatients),
    ("Anjali Verandrow", Role::Nurse, SOUTH, Hours::Days, date(2020, 10, 12), WAVE_ONE, End::AllPatients),
    ("Bao Linhtray", Role::Nurse, SOUTH, Hours::Turning, date(2022, 3, 7), WAVE_ONE, End::AllPatients),
    ("Ewa Kostrelka", Role::Nurse, SOUTH, Hours::Days, date(2018, 12, 3), WAVE_ONE, End::AllPatients),
    ("Tomas Bjarkelund", Role::Nurse, SOUTH, Hours::Turning, date(2023, 2, 13), WAVE_TWO, End::AllPatients),
    ("Zainab Orufemi", Role::Nurse, NORTH, Hours::Turning, date(2019, 5, 20), WAVE_TWO, End::AllPatients),
    ("Rhys Penllorran", Role::Nurse, NORTH, Hours::Days, date(2021, 9, 6), WAVE_TWO, End::AllPatients),
    ("Chiara Bellandro", Role::Nurse, NORTH, Hours::Turning, date(2022, 8, 22), WAVE_TWO, End::AllPatients),
    ("Mehmet Sarukal", Role::Nurse, NORTH, Hours::Nights, date(2015, 3, 30), WAVE_TWO, End::AllPatients),
    ("Leilani Kahoruna", Role::Nurse, SOUTH, Hours::Days, date(2023, 6, 5), WAVE_ONE, End::AllPatients),
    ("Dorothea Winsmark", Role::Nurse, SOUTH, Hours::Turning, date(2016, 11, 21), WAVE_TWO, End::AllPatients),
    ("Samuel Otterbeck-Hale", Role::Nurse, SOUTH, Hours::Days, date(2020, 4, 20), WAVE_TWO, End::AllPatients),
    ("Nadia Rezhmanova", Role::Nurse, SOUTH, Hours::Turning, date(2022, 1, 10), WAVE_ONE, End::AllPatients),
    ("Finn Haldersey", Role::Nurse, SOUTH, Hours::Nights, date(2018, 9, 10), WAVE_TWO, End::AllPatients),
    (
        "Precious Mbaluzi",
        Role::Nurse,
        NORTH,
        Hours::Turning,
        date(2023, 10, 16),
        WAVE_THREE,
        End::AllPatients,
    ),
    ("Katrin Vosslinde", Role::Nurse, NORTH, Hours::Turning, date(2024, 2, 5), WAVE_THREE, End::AllPatients),
    ("Jomo Kerabasi", Role::Nurse, NORTH, Hours::Days, date(2021, 11, 29), WAVE_THREE, End::AllPatients),
    (
        "Elspeth Garrowmuir",
        Role::Nurse,
        SOUTH,
        Hours::Turning,
        date(2024, 5, 13),
        WAVE_THREE,
        End::AllPatients,
    ),
    ("Arjun Devamkar", Role::Nurse, SOUTH, Hours::Turning, date(2024, 9, 2), WAVE_THREE, End::AllPatients),
    ("Paloma Serrabique", Role::Nurse, SOUTH, Hours::Days, date(2023, 4, 24), WAVE_THREE, End::AllPatients),
    (
        "Niamh Dorravane",
        Role::Nurse,
        NORTH,
        Hours::Days,
        date(2026, 5, 18),
        date(2026, 6, 8),
        End::AllPatients,
    ),
    (
        "Luca Tremontare",
        Role::Nurse,
        NORTH,
        Hours::Days,
        date(2026, 10, 19),
        date(2026, 10, 26),
        End::Planned,
    ),
    (
        "Freya Askelwyn",
        Role::Nurse,
        SOUTH,
        Hours::Turning,
        date(2026, 10, 5),
        date(2026, 10, 12),
        End::Demonstrated,
    ),
    (
        "Adaeze Okparimo",
        Role::Nurse,
        NORTH,
        Hours::Turning,
        date(2026, 9, 28),
        date(2026, 10, 5),
        End::TeachBackIncomplete,
    ),
    (
        "Jiro Takamidori",
        Role::Nurse,
        SOUTH,
        Hours::Turning,
        date(2026, 9, 14),
        date(2026, 9, 21),
        End::Draws(2),
    ),
    (
        "Mirela Dobrescanu",
        Role::Nurse,
        NORTH,
        Hours::Days,
        date(2026, 8, 17),
        date(2026, 8, 24),
        End::SafetyPointMissed,
    ),
    ("Oskar Feldhagen", Role::Nurse, SOUTH, Hours::Days, date(2026, 8, 24), date(2026, 8, 31), End::Waiting),
    (
        "Shanelle Brightwater",
        Role::Nurse,
        NORTH,
        Hours::Days,
        date(2026, 6, 15),
        date(2026, 6, 29),
        End::OwnPatients,
    ),
    (
        "Ravi Sundarpalli",
        Role::Nurse,
        SOUTH,
        Hours::Days,
        date(2026, 6, 1),
        date(2026, 6, 15),
        End::AllPatients,
    ),
    (
        "Ingrid Solvhaug",
        Role::Nurse,
        NORTH,
        Hours::Nights,
        date(2026, 8, 3),
        date(2026, 8, 10),
        End::Draws(4),
    ),
    (
        "Matteo Corrigliano",
        Role::Nurse,
        SOUTH,
        Hours::Turning,
        date(2026, 6, 8),
        date(2026, 6, 22),
        End::OwnPatients,
    ),
    (
        "Wanjiru Tesslund",
        Role::Nurse,
        NORTH,
        Hours::Turning,
        date(2026, 10, 12),
        date(2026, 10, 13),
        End::Draws(1),
    ),
];

/// Who learns the central-line draw, from when, and how far they have come.
const LINE_ROWS: [(usize, Date, End); 11] = [
    (1, date(2026, 1, 12), End::MayPrecept),
    (2, date(2026, 1, 12), End::MayPrecept),
    (3, date(2026, 1, 26), End::MayPrecept),
    (7, date(2026, 1, 26), End::MayPrecept),
    (9, date(2026, 2, 9), End::MayPrecept),
    (11, date(2026, 4, 27), End::AllPatients),
    (13, date(2026, 4, 27), End::OwnPatients),
    (18, date(2026, 5, 18), End::AllPatients),
    (21, date(2026, 7, 6), End::Draws(3)),
    (31, date(2026, 8, 31), End::TeachBackIncomplete),
    (34, date(2026, 9, 14), End::Demonstrated),
];

/// Everybody, in the order of their staff identifiers.
pub(crate) fn members() -> Vec<Member> {
    (1..)
        .zip(ROWS)
        .map(|(number, (name, role, unit, hours, started, planned, end))| Member {
            person: Person { id: id(number), name: name.to_string(), role, unit: unit.to_string(), started },
            hours,
            away: (number == BACK_FROM_LEAVE).then_some((date(2026, 6, 29), date(2026, 10, 25))),
            vein: Plan { planned, end, last_draw_from: last_draw_from(number) },
            line: LINE_ROWS.into_iter().find(|(who, ..)| *who == number).map(|(_, planned, end)| Plan {
                planned,
                end,
                last_draw_from: None,
            }),
        })
        .collect()
}

fn last_draw_from(number: usize) -> Option<Date> {
    match number {
        TWO_OF_FIVE => Some(date(2026, 10, 16)),
        NIGHTS_ONLY => Some(date(2026, 10, 5)),
        SAFETY_POINT_MISSED => Some(date(2026, 10, 12)),
        DECISION_DUE => Some(date(2026, 10, 21)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn no_two_people_share_a_name_or_an_identifier() {
        let members = members();
        let names: BTreeSet<_> = members.iter().map(|member| member.person.name.to_lowercase()).collect();
        let surnames: BTreeSet<_> = members
            .iter()
            .filter_map(|member| member.person.name.split(' ').next_back().map(str::to_lowercase))
            .collect();
        let ids: BTreeSet<_> = members.iter().map(|member| member.person.id.clone()).collect();
        assert_eq!(names.len(), 46);
        assert_eq!(surnames.len(), 46);
        assert_eq!(ids.len(), 46);
    }

    #[test]
    fn roles_are_two_trainers_eight_preceptors_and_nurses() {
        let count = |role| members().iter().filter(|member| member.person.role == role).count();
        assert_eq!((count(Role::Trainer), count(Role::Preceptor), count(Role::Nurse)), (2, 8, 36));
    }

    #[test]
    fn nobody_is_planned_before_their_first_day() {
        for member in members() {
            assert!(member.person.started <= member.vein.planned, "{:?}", member.person.id);
        }
    }
}
