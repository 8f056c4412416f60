//! The columns of a table.

/// A column of the table, by its name in the first line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Column {
    Bike,
    Owner,
    What,
    Value,
    Unit,
    With,
    PlusMinus,
    At,
    Note,
}

impl Column {
    /// Every column, in the order in which they are written.
    pub(super) const ALL: [Self; 9] = [
        Self::Bike,
        Self::Owner,
        Self::What,
        Self::Value,
        Self::Unit,
        Self::With,
        Self::PlusMinus,
        Self::At,
        Self::Note,
    ];

    /// Columns that a table must have.
    pub(super) const NEEDED: [Self; 5] = [Self::Bike, Self::What, Self::Value, Self::Unit, Self::With];

    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Bike => "bike",
            Self::Owner => "owner",
            Self::What => "what",
            Self::Value => "value",
            Self::Unit => "unit",
            Self::With => "with",
            Self::PlusMinus => "plus_minus",
            Self::At => "at",
            Self::Note => "note",
        }
    }

    /// The column with this name in any case.
    pub(super) fn of(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|column| column.name().eq_ignore_ascii_case(name.trim()))
    }
}
