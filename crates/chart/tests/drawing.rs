//! Drawings are read back with an XML parser, as a browser or a screen reader would.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use chart::{
    Curve, Interval, IntervalRow, Labels, Layout, Look, Palette, control_chart, control_chart_table,
    curve_chart, interval_plot,
};
use proptest::prelude::*;
use roxmltree::{Document, Node};
use stats::charts::{ChartKind, ChartPoint, ControlChart, Phase, PhaseBasis, Rule, Signal};

/// Invented months: contaminated sets, sets. The limits are flat, made up for drawing and no result of a method.
const MONTHS: [(u32, u32); 8] =
    [(5, 98), (3, 110), (12, 118), (4, 102), (0, 95), (1, 104), (2, 120), (1, 99)];

fn invented_chart() -> ControlChart {
    let point = |&(events, n): &(u32, u32)| {
        let value = f64::from(events) / f64::from(n);
        let (centre, upper) = (0.03, 0.075);
        let n = Some(f64::from(n));
        ChartPoint { value, n, centre, lower: None, upper: Some(upper), outside: value > upper }
    };
    let signal = |rule, from, to, sentence: &str| Signal { rule, from, to, sentence: sentence.to_owned() };
    let phase = |name: &str, from, to| Phase {
        name: name.to_owned(),
        from,
        to,
        basis: PhaseBasis::OwnPoints,
        centre: 0.03,
        n_basis: to - from + 1,
    };
    ControlChart {
        kind: ChartKind::PExact,
        why: "Small counts.".to_owned(),
        points: MONTHS.iter().map(point).collect(),
        signals: vec![
            signal(Rule::BeyondLimit, 2, 2, "Point 3 is above the upper limit."),
            signal(Rule::FourOfFiveBeyondOneSigma, 4, 7, "Points 5 to 8 lie low."),
        ],
        phases: vec![phase("baseline", 0, 3), phase("after", 4, 7)],
    }
}

fn labels() -> Labels {
    Labels {
        title: "Contaminated sets by month".to_owned(),
        description: "Share of sets judged contaminated.".to_owned(),
        point_labels: (1..=8).map(|month| format!("2026-{month:02}")).collect(),
        value_axis: "contaminated sets, share of all closed sets".to_owned(),
        of_what: "sets".to_owned(),
        percent: true,
        anchor_href: None,
    }
}

fn looks() -> Vec<Look> {
    let mut looks = vec![Look::page("a"), Look::narrow_page("b"), Look::file("c")];
    looks.push(Look { layout: Layout::Narrow, palette: Palette::Print, tab_points: true, ..Look::file("d") });
    looks
}

fn all_text(svg: &str) -> String {
    let document = Document::parse(svg).unwrap();
    document
        .descendants()
        .filter_map(|node| node.text().filter(|_| node.is_text()))
        .collect::<Vec<_>>()
        .join("|")
}

fn titles(svg: &str, class: &str) -> Vec<String> {
    let document = Document::parse(svg).unwrap();
    let mut titles = Vec::new();
    for node in document.descendants().filter(|node| node.attribute("class") == Some(class)) {
        let title = node.children().find(|child| child.tag_name().name() == "title").unwrap();
        titles.push(title.text().unwrap().to_owned());
    }
    titles
}

/// Every number that places something, with the largest the drawing allows.
fn assert_inside(svg: &str) {
    let document = Document::parse(svg).unwrap();
    let root = document.root_element();
    let size: Vec<f64> = root.attribute("viewBox").unwrap().split(' ').map(|n| n.parse().unwrap()).collect();
    for node in document.descendants().filter(Node::is_element) {
        for (name, most) in [("x", size[2]), ("cx", size[2]), ("y", size[3]), ("cy", size[3])] {
            let Some(text) = node.attribute(name) else { continue };
            let value: f64 = text.parse().unwrap();
            assert!((0.0..=most).contains(&value), "{name}={value} outside 0 to {most} in {node:?}");
        }
        if let Some(data) = node.attribute("d") {
            for pair in data.trim_end_matches('Z').split(['M', 'L']).filter(|pair| !pair.is_empty()) {
                let (x, y) = pair.split_once(' ').unwrap();
                let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
                assert!((0.0..=size[2]).contains(&x) && (0.0..=size[3]).contains(&y), "{pair} in {data}");
            }
        }
    }
}

#[test]
fn a_drawing_names_and_describes_itself() {
    for look in looks() {
        let svg = control_chart(&invented_chart(), &labels(), &look);
        let document = Document::parse(&svg).unwrap();
        let root = document.root_element();
        let named = root.attribute("aria-labelledby").unwrap();
        let texts: Vec<&str> = named
            .split(' ')
            .map(|id| {
                document.descendants().find(|node| node.attribute("id") == Some(id)).unwrap().text().unwrap()
            })
            .collect();
        assert_eq!(texts[0], "Contaminated sets by month");
        assert!(texts[1].contains("8 points, 2026-01 to 2026-08. 2 signals."), "{}", texts[1]);
        assert!(texts[1].contains("Signal 1, 2026-03: Point 3 is above the upper limit."), "{}", texts[1]);
        assert_eq!(root.attribute("role"), Some(if look.tab_points { "group" } else { "img" }));
        assert_inside(&svg);
    }
}

#[test]
fn each_point_says_its_numerator_and_denominator() {
    let svg = control_chart(&invented_chart(), &labels(), &Look::page("a"));
    let titles = titles(&svg, "chart-point");
    assert_eq!(titles.len(), 8);
    // 3 / 110 = 0.02727 and 12 / 118 = 0.10169, by hand.
    assert_eq!(titles[1], "2026-02: 3 of 110 sets = 2.7 %");
    assert_eq!(titles[2], "2026-03: 12 of 118 sets = 10.2 %; above the upper limit of 7.5 %; in signal 1");
}

#[test]
fn limits_and_phases_are_named_in_the_drawing() {
    let text = all_text(&control_chart(&invented_chart(), &labels(), &Look::page("a")));
    for words in ["|upper limit 7.5 %|", "|centre 3.0 %|", "baseline: centre 3.0 %", "|after: centre 3.0 %|"]
    {
        assert!(text.contains(words), "{words} missing in {text}");
    }
    assert!(!text.contains("lower limit"), "there is none to name: {text}");
}

#[test]
fn signals_differ_in_shape_and_carry_a_number() {
    let svg = control_chart(&invented_chart(), &labels(), &Look::file("a"));
    let document = Document::parse(&svg).unwrap();
    let in_points = |tag: &str, attribute: &str, value: &str| {
        document
            .descendants()
            .filter(|node| node.parent().is_some_and(|p| p.attribute("class") == Some("chart-point")))
            .filter(|node| node.tag_name().name() == tag && node.attribute(attribute) == Some(value))
            .count()
    };
    assert_eq!(in_points("circle", "fill", "none"), 4, "rings of the run");
    assert_eq!(in_points("path", "fill", "#111111"), 1, "the diamond");
    assert_eq!(in_points("text", "font-weight", "bold"), 1, "its number");
    assert_eq!(titles(&svg, "chart-run"), ["Signal 2: Points 5 to 8 lie low."]);
}

#[test]
fn a_low_signal_at_the_foot_keeps_its_number_off_the_axis() {
    let mut chart = invented_chart();
    chart.points[4].outside = true;
    chart.points[4].lower = Some(0.01);
    let svg = control_chart(&chart, &labels(), &Look::file("a"));
    let document = Document::parse(&svg).unwrap();
    let place = |text: &str| -> f64 {
        let node =
            document.descendants().find(|node| node.is_element() && node.text() == Some(text)).unwrap();
        node.attribute("y").unwrap().parse().unwrap()
    };
    assert!(place("low") < place("0 %"), "above the point, which lies on the axis");
}

#[test]
fn a_signal_of_the_whole_series_is_bracketed_only() {
    let mut chart = invented_chart();
    let sentence = "Few crossings.".to_owned();
    chart.signals = vec![Signal { rule: Rule::FewCrossings, from: 0, to: 7, sentence }];
    let svg = control_chart(&chart, &labels(), &Look::file("a"));
    assert_eq!(titles(&svg, "chart-run"), ["Signal 1: Few crossings."]);
    assert_eq!(svg.matches("<circle").count(), 7, "eight points, one of them a diamond, and no ring");
}

#[test]
fn print_knows_no_variables_and_the_page_no_fixed_colours() {
    let print = control_chart(&invented_chart(), &labels(), &Look::file("a"));
    assert!(!print.contains("var(") && !print.contains("currentColor"));
    let page = control_chart(&invented_chart(), &labels(), &Look::page("a"));
    assert!(!page.contains("=\"#") && !page.contains("style="));
}

#[test]
fn a_link_is_drawn_only_where_it_can_be_followed() {
    let with = |href: &str, look: &Look| {
        control_chart(&invented_chart(), &Labels { anchor_href: Some(href.into()), ..labels() }, look)
    };
    let page = with("/methods#p-chart", &Look::page("a"));
    assert!(
        page.contains("<a class=\"chart-method\" href=\"/methods#p-chart\">")
            && page.contains("role=\"group\"")
    );
    for href in ["javascript:alert(1)", "//elsewhere.example", "data:text/html,x", ""] {
        assert!(!with(href, &Look::page("a")).contains("<a "), "{href}");
    }
    assert!(!with("/methods#p-chart", &Look::file("a")).contains("<a "));
}

#[test]
fn text_from_outside_cannot_become_markup() {
    let hostile = "</title><script>alert('x')</script>&\u{0}";
    let labels = Labels {
        title: hostile.into(),
        description: hostile.into(),
        point_labels: vec![hostile.into(); 8],
        value_axis: hostile.into(),
        of_what: hostile.into(),
        percent: true,
        anchor_href: Some(format!("/x\"{hostile}")),
    };
    for look in looks() {
        let look =
            Look { id: "\" onload=\"x".into(), tab_points: true, font_family: Some("\"a".into()), ..look };
        let svg = control_chart(&invented_chart(), &labels, &look);
        let document = Document::parse(&svg).unwrap();
        assert!(!document.descendants().any(|n| n.has_tag_name("script") || n.attribute("onload").is_some()));
        assert!(!svg.contains("<script"));
    }
}

#[test]
fn nothing_to_draw_is_said() {
    let mut chart = invented_chart();
    chart.points.clear();
    chart.signals.clear();
    chart.phases.clear();
    assert!(all_text(&control_chart(&chart, &labels(), &Look::page("a"))).contains("No value to draw yet."));
    assert!(control_chart_table(&chart, &labels()).is_empty());
    assert!(
        all_text(&interval_plot(&[], None, &labels(), &Look::page("a"))).contains("Nothing to draw yet.")
    );
}

#[test]
fn a_limit_far_above_every_value_does_not_flatten_the_rest() {
    let mut chart = invented_chart();
    chart.points[5].n = Some(3.0);
    chart.points[5].value = 0.0;
    chart.points[5].upper = Some(0.6);
    let svg = control_chart(&chart, &labels(), &Look::page("a"));
    assert_eq!(titles(&svg, "chart-off-scale"), ["2026-06: upper limit 60.0 %, off the scale"]);
    assert!(!all_text(&svg).contains("|60 %|"), "the axis stays with the values");
    assert_inside(&svg);
}

#[test]
fn the_table_says_what_the_drawing_says() {
    let table = control_chart_table(&invented_chart(), &labels());
    let row = &table[2];
    assert_eq!(
        (row.events.as_deref(), row.of.as_deref(), row.value.as_str()),
        (Some("12"), Some("118"), "10.2 %")
    );
    assert_eq!(
        (row.lower.as_deref(), row.centre.as_str(), row.upper.as_deref()),
        (None, "3.0 %", Some("7.5 %"))
    );
    assert_eq!(row.remarks, ["above the upper limit of 7.5 %", "in signal 1"]);
    assert_eq!((row.phase.as_str(), table[7].phase.as_str()), ("baseline", "after"));
}

#[test]
fn intervals_are_drawn_between_their_ends() {
    // Wilson 95 % for 4 of 118 by the formula of Wilson 1927, worked out apart from this project: 0.01326, 0.08393.
    let row = |label: &str, interval: Option<Interval>, note: &str| IntervalRow {
        label: label.to_owned(),
        interval,
        note: note.to_owned(),
    };
    let shown = Interval::new(0.0338983, 0.01326, 0.08393);
    let rows = [row("East", shown, "4 of 118 sets"), row("West", None, "1 of 12 sets: too few for a share")];
    for look in looks() {
        let svg = interval_plot(&rows, Some((0.03, "target 3 %")), &labels(), &look);
        assert_inside(&svg);
        assert_eq!(
            titles(&svg, "chart-row"),
            [
                "East: 3.4 %, interval 1.3 % to 8.4 % (4 of 118 sets)",
                "West: 1 of 12 sets: too few for a share"
            ]
        );
        assert!(all_text(&svg).contains("target 3 %"));
    }
}

#[test]
fn an_interval_holds_its_estimate() {
    assert!(Interval::new(0.2, 0.3, 0.4).is_none());
    assert!(Interval::new(f64::NAN, 0.0, 1.0).is_none());
    assert!(Interval::new(0.5, 0.0, f64::INFINITY).is_none());
    assert!(Interval::new(0.0, 0.0, 0.0).is_some());
}

fn any_value() -> impl Strategy<Value = f64> {
    prop_oneof![8 => 0.0..1.0_f64, 1 => -1e9..1e9_f64, 1 => any::<f64>()]
}

fn any_chart() -> impl Strategy<Value = ControlChart> {
    let limit = || proptest::option::of(any_value());
    let point = (any_value(), limit(), any_value(), limit(), limit(), any::<bool>()).prop_map(
        |(value, n, centre, lower, upper, outside)| ChartPoint { value, n, centre, lower, upper, outside },
    );
    let signal = (0..60_usize, 0..20_usize, any::<bool>()).prop_map(|(from, more, single)| Signal {
        rule: if single { Rule::BeyondLimit } else { Rule::EightOnOneSide },
        from,
        to: from + more,
        sentence: "A < B & \"C\"".to_owned(),
    });
    (proptest::collection::vec(point, 0..70), proptest::collection::vec(signal, 0..6), 0..70_usize).prop_map(
        |(points, signals, cut)| {
            let basis = PhaseBasis::OwnPoints;
            let phase =
                |name: &str, from, to| Phase { name: name.into(), from, to, basis, centre: 0.1, n_basis: 1 };
            let phases = if cut > 0 && cut < points.len() {
                vec![phase("baseline", 0, cut - 1), phase("after", cut, points.len() - 1)]
            } else {
                Vec::new()
            };
            ControlChart { kind: ChartKind::PExact, why: String::new(), points, signals, phases }
        },
    )
}

proptest! {
    #[test]
    fn any_chart_is_drawn_inside_its_frame(chart in any_chart(), text in "\\PC{0,60}") {
        let labels = Labels { value_axis: text.clone(), point_labels: vec![text], ..labels() };
        for look in looks() {
            let svg = control_chart(&chart, &labels, &look);
            prop_assert!(!svg.contains("NaN") && !svg.contains("inf"));
            assert_inside(&svg);
        }
        prop_assert_eq!(control_chart_table(&chart, &labels).len(), chart.points.len());
    }

    #[test]
    fn a_greater_value_is_drawn_no_lower(a in 0.0..1.0_f64, b in 0.0..1.0_f64) {
        let mut chart = invented_chart();
        chart.points[0].value = a;
        chart.points[1].value = b;
        chart.points.iter_mut().for_each(|point| point.outside = false);
        let svg = control_chart(&chart, &labels(), &Look::page("a"));
        let document = Document::parse(&svg).unwrap();
        let dots: Vec<f64> = document
            .descendants()
            .filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "circle")) && n.attribute("fill") != Some("none"))
            .map(|n| n.attribute("cy").unwrap().parse().unwrap())
            .collect();
        let (higher, lower) = if a >= b { (dots[0], dots[1]) } else { (dots[1], dots[0]) };
        prop_assert!(higher <= lower);
    }
}

/// Two invented lines: each is drawn, named, and told apart by its dashes; the places rise as the values do.
#[test]
fn curves_are_named_and_told_apart_without_colour() {
    let curve = |name: &str, slope: f64| Curve {
        name: name.to_owned(),
        points: (0..=10).map(|x| (f64::from(x) / 20.0, slope * f64::from(x) / 10.0)).collect(),
    };
    for look in looks() {
        let drawn =
            curve_chart(&[curve("in force", 0.5), curve("<changed>", 1.0)], "draws missed", &labels(), &look);
        let document = Document::parse(&drawn).unwrap();
        let lines: Vec<Node<'_, '_>> = document
            .descendants()
            .filter(|node| node.attribute("class") == Some("chart-row"))
            .filter_map(|row| row.children().find(|node| node.has_tag_name("path")))
            .collect();
        assert_eq!(lines.len(), 2);
        assert_ne!(lines[0].attribute("stroke-dasharray"), lines[1].attribute("stroke-dasharray"));
        let end = |line: &Node<'_, '_>| -> f64 {
            line.attribute("d").unwrap().rsplit(' ').next().unwrap().parse().unwrap()
        };
        assert!(end(&lines[1]) < end(&lines[0]), "the steeper line ends higher up");
        assert!(drawn.contains("&lt;changed>") || drawn.contains("&lt;changed&gt;"));
    }
    let nothing = curve_chart(&[], "draws missed", &labels(), &Look::page("n"));
    assert!(nothing.contains("Nothing to draw yet."));
    let broken = Curve { name: "b".to_owned(), points: vec![(f64::NAN, 1.0), (0.1, f64::INFINITY)] };
    assert!(
        curve_chart(&[broken], "draws missed", &labels(), &Look::page("n")).contains("Nothing to draw yet.")
    );
}
