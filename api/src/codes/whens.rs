//! When complaints show, as a new shop starts.

/// When a complaint shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WhenCode {
    pub code: &'static str,
    pub label: &'static str,
}

const fn when(code: &'static str, label: &'static str) -> WhenCode {
    WhenCode { code, label }
}

/// When a complaint shows; several may hold at once.
#[rustfmt::skip]
pub const WHENS: &[WhenCode] = &[
    when("cold-start", "Cold start"),
    when("warm-up", "Warming up"),
    when("hot", "Hot"),
    when("idle", "At idle"),
    when("steady-speed", "At steady speed"),
    when("accelerating", "Accelerating"),
    when("coasting", "Coasting"),
    when("braking", "Braking"),
    when("turning", "Turning"),
    when("over-bumps", "Over bumps"),
    when("reversing", "Reversing"),
    when("parked", "Parked"),
    when("after-rain", "After rain"),
    when("in-heat", "In heat"),
    when("in-frost", "In frost"),
    when("loaded", "Loaded"),
    when("above-speed", "Above a certain speed"),
    when("after-refuelling", "After refueling"),
    when("now-and-then", "Now and then"),
    when("always", "Always"),
    when("after-earlier-work", "After earlier work"),
];
