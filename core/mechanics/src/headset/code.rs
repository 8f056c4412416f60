//! Codes of the open Standardized Headset Identification System.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// How a bearing is held at the frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Style {
    /// Integrated: the bearing sits directly in the frame.
    Is,
    /// Zero stack: a cup pressed in, the bearing inside the frame.
    Zs,
    /// External cup: a cup pressed in, the bearing outside the frame.
    Ec,
}

/// Style and whole-millimetre name of a seat, such as `IS42`; the number is a name, not a measurement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct SeatCode {
    /// How the bearing is held.
    pub style: Style,
    /// The whole-millimetre name.
    pub name_mm: u16,
}

impl schemars::JsonSchema for SeatCode {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "SeatCode".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "string", "pattern": "^(IS|ZS|EC)[0-9]{2}$" })
    }
}

/// A seat code that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{}` is not a seat code; expected IS, ZS or EC and two digits, such as IS42, ZS44 or EC34", .0.escape_debug())]
pub struct NotASeatCode(pub String);

impl FromStr for SeatCode {
    type Err = NotASeatCode;

    fn from_str(text: &str) -> Result<Self, NotASeatCode> {
        let bad = || NotASeatCode(text.to_owned());
        let (style, digits) = text.split_at_checked(2).ok_or_else(bad)?;
        let style = match style {
            "IS" => Style::Is,
            "ZS" => Style::Zs,
            "EC" => Style::Ec,
            _ => return Err(bad()),
        };
        if digits.len() != 2 || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(bad());
        }
        Ok(Self { style, name_mm: digits.parse().map_err(|_| bad())? })
    }
}

impl TryFrom<String> for SeatCode {
    type Error = NotASeatCode;
    fn try_from(text: String) -> Result<Self, NotASeatCode> {
        text.parse()
    }
}

impl From<SeatCode> for String {
    fn from(code: SeatCode) -> Self {
        code.to_string()
    }
}

impl fmt::Display for SeatCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let style = match self.style {
            Style::Is => "IS",
            Style::Zs => "ZS",
            Style::Ec => "EC",
        };
        f.pad(&format!("{style}{:02}", self.name_mm))
    }
}
