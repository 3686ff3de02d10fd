//! How columns are headed and what laboratories' words mean, in several languages.
//!
//! Common practice and from memory, no source: it only makes proposals, which a person confirms. Words are in lower
//! case without accents. A word that starts with `*` may stand inside a longer one, as German compounds need it.

use culture::{BottleKind, ReportStatus, Route};

/// What a column may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Number of the set.
    Specimen,
    /// What tells patients apart.
    Patient,
    /// Day and time of collection.
    Collected,
    /// Day of collection.
    CollectedDate,
    /// Time of collection.
    CollectedTime,
    /// Time of receipt.
    Received,
    /// Time of the report.
    Reported,
    /// Unit at the draw.
    Unit,
    /// Person who drew.
    Collector,
    /// Type of specimen.
    SpecimenType,
    /// Organism.
    Organism,
    /// Vein or line.
    Route,
    /// Status of the report.
    Status,
    /// Age in years.
    AgeYears,
    /// Date of birth.
    BirthDate,
    /// Kind of bottle.
    Bottle,
    /// What tells bottles apart.
    BottleId,
    /// Blood in the bottle.
    FillMl,
    /// Blood in the aerobic bottle, one row for each set.
    AerobicMl,
    /// Blood in the anaerobic bottle, one row for each set.
    AnaerobicMl,
    /// Hours until the first bottle was positive.
    PositiveAfter,
    /// Gain in mass.
    MassGain,
    /// Mass of the empty bottle.
    MassEmpty,
    /// Mass of the full bottle.
    MassFull,
    /// Lot of the bottle.
    Lot,
    /// Name of a drug or its result: not needed, but it shows what a row is.
    Drug,
    /// Number of a row: not needed.
    RowNumber,
}

/// Headers of each role.
#[rustfmt::skip]
pub(super) const HEADERS: [(Role, &[&str]); 27] = [
    (Role::Specimen, &[
        "specimen", "specimen no", "specimen nr", "specimen number", "specimen id", "accession", "accession no",
        "accession number", "acc no", "acc nr", "lab no", "lab nr", "lab number", "laboratory number",
        "sample id", "sample no", "sample number", "set", "set id", "set no", "set number", "*probennummer",
        "*labornummer", "*auftragsnummer", "*probennr", "*auftragsnr", "*labornr", "*probenid", "proben nr",
        "proben id", "labor nr", "auftrag nr", "journalnummer", "no echantillon", "n echantillon",
        "numero echantillon", "n prelevement", "no prelevement", "numero prelevement", "no demande",
        "n demande", "numero demande", "numero muestra", "n muestra", "no muestra", "id muestra", "muestra",
        "no peticion", "n peticion", "numero peticion", "peticion", "numero campione", "n campione",
        "id campione", "*monsternummer", "*monsternr", "*provnummer", "*provnr", "numero amostra", "n amostra",
        "amostra",
    ]),
    (Role::Patient, &[
        "patient", "patient id", "patient no", "patient nr", "patient number", "subject id", "subject", "mrn",
        "pid", "pat id", "pat no", "pat nr", "patid", "hospital number", "hospital no", "person id", "chart no",
        "medical record number", "pseudonym", "*patientennummer", "*patientennr", "*patientenid",
        "*patientnummer", "*patientnr", "*patientid", "n patient", "no patient", "numero patient", "id patient",
        "ipp", "nip", "paciente", "id paciente", "historia", "historia clinica", "nhc", "paziente",
        "id paziente", "personnummer", "doente", "utente", "numero utente",
    ]),
    (Role::Collected, &[
        "collected", "collected at", "collected on", "collection", "collection time", "collection date time",
        "collection datetime", "collected datetime", "collect time", "collect dt", "coll dt", "drawn",
        "drawn at", "draw time", "draw", "sampling time", "sampled", "taken", "taken at", "sample taken",
        "specimen taken", "charttime", "chart time", "chart", "*entnahme", "*abnahme", "prelevement",
        "preleve le", "date prelevement", "date heure prelevement", "heure prelevement", "extraccion", "toma",
        "fecha toma", "hora toma", "fecha extraccion", "hora extraccion", "fecha hora toma",
        "fecha hora extraccion", "prelievo", "data prelievo", "ora prelievo", "*afname", "*provtagning",
        "colheita", "data colheita", "hora colheita", "*collected", "*collection",
    ]),
    (Role::Received, &[
        "received", "received at", "receipt", "receipt time", "rec dt", "lab received", "arrival", "arrived",
        "arrived at", "*eingang", "reception", "recu", "recu le", "date reception", "recepcion", "recibido",
        "fecha recepcion", "ricezione", "arrivo", "*ontvangst", "ankomst", "*ankomst", "mottagen", "rececao",
    ]),
    (Role::Reported, &[
        "reported", "reported at", "report time", "report date", "result time", "result date", "verified",
        "verified at", "validated", "finalised", "final date", "*befunddatum", "*befundzeit", "*freigabe",
        "date resultat", "valide le", "date validation", "fecha resultado", "fecha informe", "data referto",
        "*svarsdatum",
    ]),
    (Role::Unit, &[
        "unit", "ward", "location", "collection unit", "collection location", "dept", "department", "service",
        "care unit", "careunit", "curr careunit", "nursing unit", "clinic", "hospital", "*station",
        "*abteilung", "einsender", "unite", "uf", "service demandeur", "servicio", "unidad", "planta",
        "reparto", "*afdeling", "*avdelning", "vardenhet", "avd", "servico",
    ]),
    (Role::Collector, &[
        "collector", "collector id", "collected by", "drawn by", "phlebotomist", "taken by", "nurse", "sampler",
        "collect user", "*entnehmer", "entnommen von", "entnommen durch", "abgenommen von", "abgenommen durch",
        "*abnehmer", "preleveur", "preleve par", "extraido por", "extractor", "enfermera", "enfermero",
        "prelevato da", "afgenomen door", "provtagare", "colhido por",
    ]),
    (Role::SpecimenType, &[
        "specimen type", "sample type", "spec type", "spec type desc", "type", "material", "test", "test name",
        "culture type", "*materialart", "*probenart", "*probenmaterial", "untersuchung", "nature",
        "nature prelevement", "type prelevement", "type echantillon", "tipo muestra", "tipo de muestra",
        "tipo campione", "materiale", "materiaal", "provtyp", "tipo amostra",
    ]),
    (Role::Organism, &[
        "organism", "organism name", "org", "org name", "isolate", "bacteria", "microorganism",
        "micro organism", "germ", "pathogen", "result", "culture result", "finding", "identification",
        "species", "mo", "*keim", "*erreger", "befund", "ergebnis", "germe", "bacterie", "micro organisme",
        "microorganisme", "resultat", "microorganismo", "germen", "resultado", "aislamiento", "microrganismo",
        "esito", "isolato", "uitslag", "fynd", "bakterie", "*organism", "*microorganism",
    ]),
    (Role::Route, &[
        "site", "draw site", "collection site", "source", "route", "line or vein", "puncture site",
        "specimen source", "body site", "collection method", "method", "*entnahmeort", "*abnahmeort",
        "*entnahmestelle", "zugang", "site prelevement", "voie", "voie prelevement", "lieu", "sitio", "via",
        "punto extraccion", "lugar", "sede", "sede prelievo", "*afnameplaats", "provtagningsstalle", "lokal",
        "local colheita",
    ]),
    (Role::Status, &[
        "status", "result status", "report status", "state", "stage", "*befundstatus", "*status", "etat",
        "statut", "estado", "stato",
    ]),
    (Role::AgeYears, &[
        "age", "age years", "patient age", "age at collection", "alter", "alter jahre", "edad", "eta",
        "leeftijd", "alder", "idade",
    ]),
    (Role::BirthDate, &[
        "dob", "date of birth", "birth date", "born", "birthdate", "*geburtsdatum", "geb datum", "geboren",
        "date naissance", "date de naissance", "ddn", "ne le", "fecha nacimiento", "fecha de nacimiento",
        "nacimiento", "data nascita", "data di nascita", "geboortedatum", "fodelsedatum", "data nascimento",
        "data de nascimento",
    ]),
    (Role::Bottle, &[
        "bottle", "bottle type", "bottle kind", "vial", "container", "medium", "*flasche", "*flaschentyp",
        "*flaschenart", "flacon", "type flacon", "frasco", "tipo frasco", "botella", "flacone", "tipo flacone",
        "fles", "flaska",
    ]),
    (Role::BottleId, &[
        "bottle id", "bottle no", "bottle number", "barcode", "bottle barcode", "container id",
        "*flaschennummer", "*flaschennr", "flaschen nr", "no flacon", "n flacon", "code barre", "codigo frasco",
    ]),
    (Role::FillMl, &[
        "fill", "fill ml", "volume", "volume ml", "vol", "vol ml", "ml", "blood ml", "blood volume",
        "*fullmenge", "*fullvolumen", "volumen", "volumen ml", "volume sang", "volym",
    ]),
    (Role::AerobicMl, &[
        "aerobic ml", "aer ml", "aerobic volume", "aerobic fill", "aer vol", "vol aerobic", "aerob ml",
        "aerobie ml", "aerobio ml", "volume aerobie", "volumen aerobio", "ml aerobic",
    ]),
    (Role::AnaerobicMl, &[
        "anaerobic ml", "ana ml", "anaer ml", "anaerobic volume", "anaerobic fill", "ana vol", "vol anaerobic",
        "anaerob ml", "anaerobie ml", "anaerobio ml", "volume anaerobie", "volumen anaerobio", "ml anaerobic",
    ]),
    (Role::PositiveAfter, &[
        "time to positivity", "time to positive", "time to positivity h", "hours to positivity", "hours to positive",
        "positive after h", "positive after", "ttp", "ttp h", "ttp hours", "time to detection", "ttd", "ttd h",
        "hours to detection", "*zeitbispositiv", "*detektionszeit", "delai positivite", "temps positivite",
        "delai positivite h", "tiempo positividad", "tiempo hasta positividad", "tiempo deteccion",
        "tempo positivita", "tempo positividade", "*tijdtotpositief", "*tidtillpositiv",
    ]),
    (Role::MassGain, &[
        "gain", "mass gain", "weight gain", "gain g", "net weight", "net g", "blood g", "*blutgewicht", "netto",
    ]),
    (Role::MassEmpty, &[
        "empty weight", "empty", "empty g", "tare", "tare g", "*leergewicht", "tara", "poids vide",
        "peso vacio", "peso vuoto",
    ]),
    (Role::MassFull, &[
        "full weight", "full", "full g", "filled weight", "gross", "gross g", "*vollgewicht", "brutto",
        "poids plein", "peso lleno", "peso pieno",
    ]),
    (Role::Lot, &[
        "lot", "lot no", "lot number", "bottle lot", "charge", "*chargennummer", "lote", "lotto",
    ]),
    (Role::Drug, &[
        "antibiotic", "ab name", "drug", "antimicrobial", "agent", "susceptibility", "sir", "mic",
        "interpretation", "*antibiotikum", "antibiotique", "antibiotico",
    ]),
    (Role::RowNumber, &[
        "row id", "row", "row no", "line", "index", "lfd nr", "zeile", "ligne", "fila", "no", "nr", "id",
    ]),
    (Role::CollectedDate, &[
        "collection date", "collected date", "date collected", "draw date", "date drawn", "sample date",
        "date of sample", "chartdate", "chart date", "date", "datum", "fecha", "data", "*entnahmedatum",
        "*abnahmedatum", "provdatum",
    ]),
    (Role::CollectedTime, &[
        "collection time", "collected time", "time collected", "time drawn", "time", "uhrzeit", "zeit", "heure",
        "hora", "ora", "tijd", "tid", "*entnahmezeit", "*abnahmezeit", "*entnahmeuhrzeit", "provtid",
    ]),
];

/// Words for a report's status besides those the reader knows.
pub(super) const STATUS_WORDS: [(&str, ReportStatus); 30] = [
    ("endbefund", ReportStatus::Final),
    ("endgultig", ReportStatus::Final),
    ("abgeschlossen", ReportStatus::Final),
    ("zwischenbefund", ReportStatus::Preliminary),
    ("vorlaufig", ReportStatus::Preliminary),
    ("teilbefund", ReportStatus::Preliminary),
    ("korrigiert", ReportStatus::Corrected),
    ("storniert", ReportStatus::Cancelled),
    ("abgelehnt", ReportStatus::Cancelled),
    ("definitif", ReportStatus::Final),
    ("valide", ReportStatus::Final),
    ("provisoire", ReportStatus::Preliminary),
    ("en cours", ReportStatus::Preliminary),
    ("corrige", ReportStatus::Corrected),
    ("annule", ReportStatus::Cancelled),
    ("definitivo", ReportStatus::Final),
    ("finalizado", ReportStatus::Final),
    ("preliminar", ReportStatus::Preliminary),
    ("pendiente", ReportStatus::Preliminary),
    ("corregido", ReportStatus::Corrected),
    ("anulado", ReportStatus::Cancelled),
    ("rechazado", ReportStatus::Cancelled),
    ("preliminare", ReportStatus::Preliminary),
    ("corretto", ReportStatus::Corrected),
    ("annullato", ReportStatus::Cancelled),
    ("slutsvar", ReportStatus::Final),
    ("preliminarsvar", ReportStatus::Preliminary),
    ("rattat", ReportStatus::Corrected),
    ("makulerad", ReportStatus::Cancelled),
    ("done", ReportStatus::Final),
];

/// Words for vein and line besides those the reader knows.
pub(super) const ROUTE_WORDS: [(&str, Route); 34] = [
    ("periphere venenpunktion", Route::Vein),
    ("peripher", Route::Vein),
    ("venenpunktion", Route::Vein),
    ("vene", Route::Vein),
    ("zvk", Route::CentralLine),
    ("zentraler venenkatheter", Route::CentralLine),
    ("zentral", Route::CentralLine),
    ("port", Route::CentralLine),
    ("arterie", Route::ArterialLine),
    ("arteriell", Route::ArterialLine),
    ("viggo", Route::Cannula),
    ("ponction veineuse", Route::Vein),
    ("veine", Route::Vein),
    ("peripherique", Route::Vein),
    ("voie centrale", Route::CentralLine),
    ("catheter central", Route::CentralLine),
    ("kt central", Route::CentralLine),
    ("kt arteriel", Route::ArterialLine),
    ("catheter arteriel", Route::ArterialLine),
    ("puncion venosa", Route::Vein),
    ("venopuncion", Route::Vein),
    ("periferica", Route::Vein),
    ("vena", Route::Vein),
    ("via central", Route::CentralLine),
    ("cateter central", Route::CentralLine),
    ("cateter arterial", Route::ArterialLine),
    ("via periferica", Route::Cannula),
    ("venoso periferico", Route::Vein),
    ("cvk", Route::CentralLine),
    ("perifer", Route::Vein),
    ("artarnal", Route::ArterialLine),
    ("central", Route::CentralLine),
    ("arterial", Route::ArterialLine),
    ("periph", Route::Vein),
];

/// Words for bottles besides those the reader knows.
pub(super) const BOTTLE_WORDS: [(&str, BottleKind); 14] = [
    ("aerob", BottleKind::Aerobic),
    ("aerobe flasche", BottleKind::Aerobic),
    ("aerobie", BottleKind::Aerobic),
    ("aerobio", BottleKind::Aerobic),
    ("aerobia", BottleKind::Aerobic),
    ("anaerob", BottleKind::Anaerobic),
    ("anaerobe flasche", BottleKind::Anaerobic),
    ("anaerobie", BottleKind::Anaerobic),
    ("anaerobio", BottleKind::Anaerobic),
    ("anaerobia", BottleKind::Anaerobic),
    ("padiatrisch", BottleKind::Paediatric),
    ("pediatrique", BottleKind::Paediatric),
    ("pediatrico", BottleKind::Paediatric),
    ("peds", BottleKind::Paediatric),
];

/// Starts of words for no growth besides those the reader knows.
#[rustfmt::skip]
pub(super) const NO_GROWTH: [&str; 16] = [
    "kein wachstum", "keine keime", "kein keimnachweis", "negativ", "pas de croissance",
    "absence de culture", "culture negative", "culture sterile", "negatif", "sin crecimiento",
    "cultivo negativo", "negativo", "nessuna crescita", "geen groei", "ingen vaxt", "sem crescimento",
];

/// Types of specimen that are blood cultures, as whole words of the type.
#[rustfmt::skip]
pub(super) const BLOOD_CULTURE: [&str; 18] = [
    "blood culture", "blood cultures", "blood", "culture, blood", "blood cult", "bc", "blc", "blutkultur",
    "blutkulturen", "blut", "hemoculture", "hemocultures", "sang", "hemocultivo", "sangre", "emocoltura",
    "blododling", "bloedkweek",
];

/// The headers of a table of stays: from, until, unit.
pub(super) const STAY_FROM: [&str; 8] =
    ["in", "intime", "in time", "from", "admitted", "admit time", "start", "von"];
pub(super) const STAY_UNTIL: [&str; 8] =
    ["out", "outtime", "out time", "until", "discharged", "discharge time", "end", "bis"];

/// A header or word in lower case without accents, words parted by single blanks: "EntnahmeZeit_1" is "entnahme zeit 1".
pub(super) fn bare(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before_was_lower = false;
    for character in text.chars() {
        if before_was_lower && character.is_uppercase() {
            out.push(' ');
        }
        before_was_lower = character.is_lowercase();
        for lower in character.to_lowercase() {
            match lower {
                'ä' | 'à' | 'á' | 'â' | 'ã' | 'å' => out.push('a'),
                'ç' => out.push('c'),
                'é' | 'è' | 'ê' | 'ë' => out.push('e'),
                'í' | 'ì' | 'î' | 'ï' => out.push('i'),
                'ñ' => out.push('n'),
                'ö' | 'ó' | 'ò' | 'ô' | 'õ' | 'ø' => out.push('o'),
                'ü' | 'ú' | 'ù' | 'û' => out.push('u'),
                'ß' => out.push_str("ss"),
                'æ' => out.push_str("ae"),
                'œ' => out.push_str("oe"),
                letter if letter.is_alphanumeric() => out.push(letter),
                _ => out.push(' '),
            }
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// How well a header names a role: 1 exactly, less where it only contains the words; 0 not at all.
pub(super) fn header_fits(header: &str, role: Role) -> f64 {
    let header = bare(header);
    // "no" and "de" and the like carry no meaning beside other words; a number at the end counts columns of a kind.
    let without_count = header.trim_end_matches(|c: char| c.is_ascii_digit() || c == ' ').to_owned();
    let plain = without_small_words(&without_count);
    let closed: String = header.chars().filter(|c| *c != ' ').collect();
    HEADERS
        .iter()
        .filter(|(named, _)| *named == role)
        .flat_map(|(_, words)| words.iter())
        .map(|word| match word.strip_prefix('*') {
            Some(inside) if closed == inside => 1.0,
            Some(inside) if closed.contains(inside) => 0.55 + 0.3 * inside.len() as f64 / closed.len() as f64,
            Some(_) => 0.0,
            None if *word == header || *word == without_count || *word == plain => 1.0,
            None => contained(&plain, word),
        })
        .fold(0.0, f64::max)
}

fn without_small_words(header: &str) -> String {
    const SMALL: [&str; 14] =
        ["de", "du", "des", "la", "le", "el", "del", "di", "et", "y", "the", "of", "der", "und"];
    header.split(' ').filter(|word| !SMALL.contains(word)).collect::<Vec<_>>().join(" ")
}

/// The words stand in the header, beside others.
fn contained(header: &str, words: &str) -> f64 {
    if words.len() < 3 {
        return 0.0;
    }
    let padded = format!(" {header} ");
    let inside = padded.contains(&format!(" {words} "));
    if inside { 0.4 + 0.4 * words.len() as f64 / header.len().max(1) as f64 } else { 0.0 }
}
