//! Check plans: how the shop checks a symptom, version by version.
