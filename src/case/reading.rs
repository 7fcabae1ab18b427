//! A reading: one reader's marks on one film.

use crate::landmark::{Landmark, LandmarkSet};
use crate::units::FilmPx;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// One reading of one film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The film's id.
    pub film: String,
    /// The reader.
    pub reader: String,
    /// Counts the reader's readings of this film from 1.
    pub number: u32,
    /// The marks, in film pixels.
    #[serde(serialize_with = "write_marks", deserialize_with = "read_marks")]
    pub marks: LandmarkSet,
    /// Marks the program proposed and nobody accepted yet.
    #[serde(
        skip_serializing_if = "BTreeSet::is_empty",
        default,
        serialize_with = "write_names",
        deserialize_with = "read_names"
    )]
    pub proposed: BTreeSet<Landmark>,
    /// What a newer or another program wrote beside.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl Reading {
    /// An empty reading.
    #[must_use]
    pub fn new(film: &str, reader: &str, number: u32) -> Reading {
        Reading {
            film: film.to_owned(),
            reader: reader.to_owned(),
            number,
            marks: LandmarkSet::new(),
            proposed: BTreeSet::new(),
            extra: Map::new(),
        }
    }

    /// The marks that were placed or accepted, without proposals.
    #[must_use]
    pub fn accepted(&self) -> LandmarkSet {
        self.those(|name| !self.proposed.contains(&name))
    }

    /// The marks that are proposed and wait.
    #[must_use]
    pub fn unaccepted(&self) -> LandmarkSet {
        self.those(|name| self.proposed.contains(&name))
    }

    fn those(&self, wanted: impl Fn(Landmark) -> bool) -> LandmarkSet {
        self.marks
            .iter()
            .filter(|(name, _)| wanted(*name))
            .map(|(name, points)| (name, points.to_vec()))
            .collect()
    }
}

fn write_marks<S: Serializer>(marks: &LandmarkSet, out: S) -> Result<S::Ok, S::Error> {
    out.collect_map(marks.iter().map(|(name, points)| {
        (
            name.to_string(),
            points.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>(),
        )
    }))
}

fn read_marks<'de, D: Deserializer<'de>>(input: D) -> Result<LandmarkSet, D::Error> {
    let raw: BTreeMap<String, Vec<[f64; 2]>> = BTreeMap::deserialize(input)?;
    raw.into_iter()
        .map(|(name, points)| {
            let name: Landmark = name.parse().map_err(serde::de::Error::custom)?;
            if points.iter().flatten().any(|v| !v.is_finite()) {
                return Err(serde::de::Error::custom(format!(
                    "{name} has a coordinate that is no number"
                )));
            }
            Ok((
                name,
                points.into_iter().map(|[x, y]| FilmPx::new(x, y)).collect(),
            ))
        })
        .collect()
}

fn write_names<S: Serializer>(names: &BTreeSet<Landmark>, out: S) -> Result<S::Ok, S::Error> {
    out.collect_seq(names.iter().map(Landmark::to_string))
}

fn read_names<'de, D: Deserializer<'de>>(input: D) -> Result<BTreeSet<Landmark>, D::Error> {
    let raw: Vec<String> = Vec::deserialize(input)?;
    raw.iter()
        .map(|name| name.parse().map_err(serde::de::Error::custom))
        .collect()
}
