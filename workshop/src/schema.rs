//! `steerwright schema`.

use crate::args::{Format, Schema};
use crate::fault::Fault;
use crate::output;
use schemars::{SchemaGenerator, generate::SchemaSettings};
use steerwright_core::bike::Bike;
use steerwright_core::book::Manifest;
use steerwright_core::catalogue::Catalogue;
use steerwright_core::photogrammetry::measure::Marks;
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{Handling, LevelReport, PhotoReport, Report};

pub(crate) fn run(call: &Schema) -> Result<(), Fault> {
    let generator = || SchemaGenerator::new(SchemaSettings::draft2020_12());
    let schema = match call.format {
        Format::Bike => generator().into_root_schema_for::<Bike>(),
        Format::Catalogue => generator().into_root_schema_for::<Catalogue>(),
        Format::Report => generator().into_root_schema_for::<Report>(),
        Format::Handling => generator().into_root_schema_for::<Handling>(),
        Format::Level => generator().into_root_schema_for::<LevelReport>(),
        Format::Photo => generator().into_root_schema_for::<PhotoReport>(),
        Format::Marks => generator().into_root_schema_for::<Marks>(),
        Format::Instruments => generator().into_root_schema_for::<Instruments>(),
        Format::Bundle => generator().into_root_schema_for::<Manifest>(),
    };
    output::print_json(&schema.to_value())
}
