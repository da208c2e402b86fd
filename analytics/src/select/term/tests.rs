use super::*;

proptest::proptest! {
    #[test]
    fn any_text_survives(symptom in "\\PC{0,12}", check in "[a-z .&=%+/]{1,12}") {
        let selector = Selector::new()
            .with(Term::Kind(JobKind::Complaint))
            .with(Term::Text(Column::Symptom, (!symptom.is_empty()).then_some(symptom)))
            .with(Term::Path(PathMatch::Whole, vec![check.clone(), check.clone()]))
            .with(Term::FoundBy(Some(check.clone())))
            .with(Term::FoundBy(None))
            .with(Term::Treatment(Treatment::Replaced))
            .with(Term::Returned(true));
        proptest::prop_assert_eq!(Selector::parse(&selector.to_string()), Ok(selector));
    }
}

#[test]
fn a_report_s_selector_is_read() {
    let text = "symptom=engine.tick&closed_from=2026-01-01&closed_to=2026-10-11&returned=true";
    let selector = Selector::parse(text).unwrap();
    assert_eq!(selector.terms().len(), 4);
    assert_eq!(selector.to_string(), text);
}

#[test]
fn what_is_no_selector_is_refused() {
    assert!(matches!(Selector::parse("color=red"), Err(SelectorError::UnknownKey(_))));
    assert!(matches!(Selector::parse("kind=visit"), Err(SelectorError::BadValue(..))));
    assert!(matches!(Selector::parse("closed_to=2026-02-30"), Err(SelectorError::BadValue(..))));
    for broken in ["symptom=%4", "symptom=%zz", "symptom=%ff"] {
        assert!(matches!(Selector::parse(broken), Err(SelectorError::BadEncoding(_))));
    }
}
