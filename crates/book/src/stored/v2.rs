//! Version 2 of the stored form of draws: what was seen of one beside its marks. FROZEN, as version 1 is.
//!
//! A draw of which nothing more was written down is stored in version 1, as it always was.

use practice::{
    Bottle, Circumstances, Difficulty, DrawnFrom, EventKind, ObservedDraw, SpotCheck, Stopped, WhyThere,
};
use serde::{Deserialize, Serialize};

use super::StoredError;
use super::v1::{Draw, item, text, words};
use crate::entry::Body;

words!(StoredBottle for Bottle {
    Aerobic = "aerobic", Anaerobic = "anaerobic", Paediatric = "paediatric",
});
words!(StoredDifficulty for Difficulty {
    NoVein = "no-vein", Shock = "shock", Oedema = "oedema", Obesity = "obesity", Agitation = "agitation",
    Emergency = "emergency",
});
words!(StoredDrawnFrom for DrawnFrom {
    FreshVein = "fresh-vein", NewCannula = "new-cannula", Line = "line",
});
words!(StoredWhyThere for WhyThere {
    LineSuspected = "line-suspected", NoOtherWay = "no-other-way", Ordered = "ordered", NoTime = "no-time",
});
words!(StoredStopped for Stopped {
    Nerve = "nerve", Artery = "artery", Attempts = "attempts", Breathless = "breathless", Other = "other",
});

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fill {
    bottle: StoredBottle,
    tenths_ml: u16,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Began {
    item: String,
    at_s: u32,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StoredCircumstances {
    fills: Vec<Fill>,
    difficulty: Vec<StoredDifficulty>,
    drawn_from: Option<StoredDrawnFrom>,
    why_there: Option<StoredWhyThere>,
    stopped: Option<StoredStopped>,
    wrong: Vec<String>,
    together: Vec<String>,
    lasted_s: Option<u32>,
    began_s: Vec<Began>,
    clock_moved_s: Option<i32>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DrawWithCircumstances {
    draw: Draw,
    circumstances: StoredCircumstances,
}

/// The text of a draw of which more was written down than its marks; `None` for everything else.
pub(super) fn encode(body: &Body) -> Option<Result<String, StoredError>> {
    let draw = match body {
        Body::Practice(EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))) => draw,
        _ => return None,
    };
    if draw.circumstances.is_empty() {
        return None;
    }
    Some(text(&DrawWithCircumstances {
        draw: Draw::from(draw),
        circumstances: StoredCircumstances::from(&draw.circumstances),
    }))
}

pub(super) fn decode(kind: &str, text: &str) -> Result<Body, StoredError> {
    let event: fn(ObservedDraw) -> EventKind = match kind {
        "draw-observed" => EventKind::DrawObserved,
        "spot-checked" => |draw| EventKind::SpotChecked(SpotCheck(draw)),
        _ => return Err(StoredError::UnknownKind { kind: kind.to_owned(), version: 2 }),
    };
    let stored: DrawWithCircumstances = serde_json::from_str(text).map_err(|error| StoredError::Shape {
        kind: kind.to_owned(),
        version: 2,
        detail: error.to_string(),
    })?;
    let circumstances = stored.circumstances.restore()?;
    Ok(Body::Practice(event(ObservedDraw { circumstances, ..stored.draw.restore()? })))
}

impl From<&Circumstances> for StoredCircumstances {
    fn from(of: &Circumstances) -> Self {
        let items = |items: &[breakdown::ItemId]| items.iter().map(ToString::to_string).collect();
        StoredCircumstances {
            fills: of
                .fills
                .iter()
                .map(|(bottle, tenths_ml)| Fill { bottle: (*bottle).into(), tenths_ml: *tenths_ml })
                .collect(),
            difficulty: of.difficulty.iter().map(|each| (*each).into()).collect(),
            drawn_from: of.drawn_from.map(Into::into),
            why_there: of.why_there.map(Into::into),
            stopped: of.stopped.map(Into::into),
            wrong: items(&of.wrong),
            together: items(&of.together),
            lasted_s: of.lasted_s,
            began_s: of
                .began_s
                .iter()
                .map(|(item, at_s)| Began { item: item.to_string(), at_s: *at_s })
                .collect(),
            clock_moved_s: of.clock_moved_s,
        }
    }
}

impl StoredCircumstances {
    fn restore(self) -> Result<Circumstances, StoredError> {
        let items = |items: Vec<String>| items.iter().map(|text| item(text)).collect::<Result<_, _>>();
        let began = |began: Began| Ok::<_, StoredError>((item(&began.item)?, began.at_s));
        Ok(Circumstances {
            fills: self.fills.into_iter().map(|fill| (fill.bottle.into(), fill.tenths_ml)).collect(),
            difficulty: self.difficulty.into_iter().map(Into::into).collect(),
            drawn_from: self.drawn_from.map(Into::into),
            why_there: self.why_there.map(Into::into),
            stopped: self.stopped.map(Into::into),
            wrong: items(self.wrong)?,
            together: items(self.together)?,
            lasted_s: self.lasted_s,
            began_s: self.began_s.into_iter().map(began).collect::<Result<_, _>>()?,
            clock_moved_s: self.clock_moved_s,
        })
    }
}
