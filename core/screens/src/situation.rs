//! One bike with the check that its screens speak of.

use crate::{Context, ScreenError};
use steerwright_fieldbook::{BikeId, BikeScreen, Reader};
use steerwright_fit::bike::{Bike, Disagreement};
use steerwright_fit::catalogue::Catalogue;
use steerwright_fit::judgement::Wanted;
use steerwright_fit::report::{KitReport, Options, Report, check_in};
use steerwright_metrology::quantity::Instruments;
use steerwright_metrology::voice::Voice;

/// A bike, what is wanted of it, and the check against the book's catalogue.
pub(crate) struct Situation {
    pub(crate) screen: BikeScreen,
    pub(crate) wanted: Wanted,
    pub(crate) instruments: Instruments,
    /// Absent while the book has no catalogue.
    pub(crate) judged: Option<Judged>,
}

/// The check and what it was made against.
pub(crate) struct Judged {
    pub(crate) catalogue: Catalogue,
    pub(crate) report: Report,
}

/// The catalogue that is used: of the only maker, or the first by name.
pub(crate) fn catalogue(reader: &Reader) -> Result<Option<Catalogue>, ScreenError> {
    let makers = reader.makers()?;
    let Some(maker) = makers.iter().find(|maker| !maker.catalogues.is_empty()) else { return Ok(None) };
    Ok(Some(reader.catalogue(&maker.maker, None)?))
}

impl Situation {
    /// The bike as it is now.
    pub(crate) fn new(context: &Context<'_>, id: BikeId) -> Result<Self, ScreenError> {
        let catalogue = catalogue(context.reader)?;
        let instruments = context.reader.instruments()?;
        Self::with(context, id, catalogue, instruments)
    }

    /// The same with a catalogue that is at hand, for a list of bikes.
    pub(crate) fn with(
        context: &Context<'_>,
        id: BikeId,
        catalogue: Option<Catalogue>,
        instruments: Instruments,
    ) -> Result<Self, ScreenError> {
        let screen = context.reader.bike_screen(id)?;
        let wanted = screen.record.wanted.unwrap_or_default();
        let judged = catalogue
            .map(|catalogue| {
                let report = judge(context.voice(), &screen.record.bike, &catalogue, &instruments, wanted)?;
                Ok::<_, ScreenError>(Judged { catalogue, report })
            })
            .transpose()?;
        Ok(Self { screen, wanted, instruments, judged })
    }

    pub(crate) fn report(&self) -> Option<&Report> {
        self.judged.as_ref().map(|judged| &judged.report)
    }

    /// The kit that the answer speaks of.
    pub(crate) fn best(&self) -> Option<&KitReport> {
        self.report()?.kits.first()
    }

    /// The first pair of readings that contradict each other with no majority against either.
    pub(crate) fn contradiction(&self) -> Option<&Disagreement> {
        let findings = &self.screen.findings;
        findings.disagreements().iter().find(|pair| findings.is_contradicted(pair.what))
    }

    /// Whether any readings contradict each other so that an answer waits for them.
    pub(crate) fn disagrees(&self) -> bool {
        self.contradiction().is_some()
    }
}

/// A check of a bike for what its rider wants, in the user's language.
pub(crate) fn judge(
    voice: Voice<'_>,
    bike: &Bike,
    catalogue: &Catalogue,
    instruments: &Instruments,
    wanted: Wanted,
) -> Result<Report, ScreenError> {
    let options = Options { direction: wanted.direction, target: wanted.target, only: None };
    Ok(check_in(voice, bike, catalogue, instruments, &options)?)
}
