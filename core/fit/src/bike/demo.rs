//! The invented hire bikes of the Larch Hollow demo crew.

macro_rules! bikes {
    ($($file:literal,)*) => {
        [$(($file, include_str!(concat!("../../data/demo/bikes/", $file))),)*]
    };
}

/// File names and texts of the twelve demo bikes (`steerwright.bike/1`). `core/fit/data/demo/README.md` says what each
/// of them shows.
pub fn demo_bikes_json() -> [(&'static str, &'static str); 12] {
    bikes![
        "hire-bike-01.json",
        "hire-bike-02.json",
        "hire-bike-03.json",
        "hire-bike-04.json",
        "hire-bike-05.json",
        "hire-bike-06.json",
        "hire-bike-07.json",
        "hire-bike-08.json",
        "hire-bike-09.json",
        "hire-bike-10.json",
        "hire-bike-11.json",
        "hire-bike-12.json",
    ]
}
