use super::*;

proptest::proptest! {
    #[test]
    fn any_text_survives(symptom in "\\PC{0,12}", check in "[a-z .&=%+/]{1,12}", low in -1e300..1e300) {
        let selector = Selector::new()
            .with(Term::Kind(JobKind::Complaint))
            .with(Term::Text(Column::Symptom, (!symptom.is_empty()).then_some(symptom)))
            .with(Term::Path(PathMatch::Whole, vec![check.clone(), check.clone()]))
            .with(Term::FoundBy(Some(check.clone())))
            .with(Term::FoundBy(None))
            .with(Term::Treatment(Treatment::Replaced))
            .with(Term::Treatment(Treatment::PutBack))
            .with(Term::ReadingFrom(Reading::new(low).unwrap()))
            .with(Term::ReadingTo(Reading::new(1.5).unwrap()))
            .with(Term::BenchRead(true))
            .with(Term::Text(Column::HandOverLine, Some(check.clone())))
            .with(Term::HandOverFrom(Reading::new(low).unwrap()))
            .with(Term::HandOverTo(Reading::new(1.5).unwrap()))
            .with(Term::Done(false))
            .with(Term::Clocked(true))
            .with(Term::Returned(true));
        let inside = selector.clone();
        let selector = selector.with(Term::Also(inside.clone())).with(Term::Except(
            Selector::new().with(Term::Also(inside)),
        ));
        proptest::prop_assert_eq!(Selector::parse(&selector.to_string()), Ok(selector));
    }
}

#[test]
fn a_report_s_selector_is_read() {
    let text = "symptom=engine.tick&closed_from=2026-01-01&closed_to=2026-10-11&returned=true\
                &returned_from=2026-02-01&returned_to=2026-02-07\
                &opened_from=2026-01-01&opened_to=2026-01-31";
    let selector = Selector::parse(text).unwrap();
    assert_eq!(selector.terms().len(), 8);
    assert_eq!(selector.to_string(), text);
}

#[test]
fn selectors_inside_selectors_end_somewhere() {
    let mut deep = Selector::new().with(Term::Returned(true));
    for _ in 0..16 {
        deep = Selector::new().with(Term::Except(deep));
    }
    assert_eq!(Selector::parse(&deep.to_string()), Ok(deep.clone()));
    let deeper = Selector::new().with(Term::Also(deep));
    assert!(matches!(Selector::parse(&deeper.to_string()), Err(SelectorError::BadValue(..))));
    assert!(matches!(Selector::parse("also=color%3Dred"), Err(SelectorError::UnknownKey(_))));
}

#[test]
fn what_is_no_selector_is_refused() {
    assert!(matches!(Selector::parse("color=red"), Err(SelectorError::UnknownKey(_))));
    assert!(matches!(Selector::parse("kind=visit"), Err(SelectorError::BadValue(..))));
    assert!(matches!(Selector::parse("reading_to=NaN"), Err(SelectorError::BadValue(..))));
    assert!(matches!(Selector::parse("closed_to=2026-02-30"), Err(SelectorError::BadValue(..))));
    for broken in ["symptom=%4", "symptom=%zz", "symptom=%ff"] {
        assert!(matches!(Selector::parse(broken), Err(SelectorError::BadEncoding(_))));
    }
}

#[test]
fn what_became_of_a_job_is_no_part_of_what_was_done() {
    let told = |text: &str| Selector::parse(text).unwrap().tells_the_outcome();
    for after in [
        "returned=true",
        "returned=false",
        "returned_from=2026-10-11",
        "returned_to=2026-10-11",
        "return_reason=",
        "told=true",
        "part_returned=true",
        "back_within_km=100",
        "distance=known",
        "visits=2",
        "cause_state=confirmed",
        "done=true",
        "second_visit=true",
    ] {
        assert!(told(after) && told(&format!("symptom=engine.tick&{after}")), "{after}");
        let inside = escaped(&format!("except={}", escaped(after)));
        assert!(told(&format!("also={inside}")), "{after}");
    }
    for before in [
        "",
        "kind=complaint&outcome=repaired&symptom=engine.tick&closed_from=2026-01-01",
        "first_check=stethoscope",
        "part=V-1&disposition=replaced&role=suspect",
        "first_repair=true&failed_proof=false",
        "hand_over_line=battery.gravity&hand_over_unit=1&hand_over_from=1.2&hand_over_to=1.3",
        "also=check%3Dstethoscope&except=technician%3DMirela",
    ] {
        assert!(!told(before), "{before}");
    }
}
