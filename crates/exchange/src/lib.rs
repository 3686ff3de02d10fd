//! What comes in and goes out: CSV, XLSX, HL7 v2, FHIR R4, iCalendar, WebVTT and SRT.
