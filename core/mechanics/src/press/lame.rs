//! Lame's equations for two thick rings pressed into each other.
//!
//! G. Lame and B. P. E. Clapeyron, 1833; in the form of V. B. Bhandari, *Design of Machine Elements*, chapter 22. Plane
//! stress, both rings round, of one length and linearly elastic; uniform pressure. Real head tubes are stiffened by the
//! top and down tube and cups are shorter than the tube, so the results indicate the order of magnitude of the stress.

/// Elastic constants of an isotropic material.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elastic {
    /// Young's modulus, MPa.
    pub young_mpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

/// Two rings: the outer one's outside, the common and the inner one's inside diameter, and their materials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rings {
    /// Outside diameter of the outer ring, mm.
    pub outside_mm: f64,
    /// Diameter at which they touch, mm.
    pub contact_mm: f64,
    /// Inside diameter of the inner ring, mm; 0 for a solid disc.
    pub inside_mm: f64,
    /// Material of the outer ring.
    pub outer: Elastic,
    /// Material of the inner ring.
    pub inner: Elastic,
}

impl Rings {
    /// Diametral interference per pressure, mm per MPa. `None` unless outside > contact > inside >= 0 and the elastic
    /// constants are physically possible.
    pub fn compliance(&self) -> Option<f64> {
        let Self { outside_mm: outside, contact_mm: contact, inside_mm: inside, outer, inner } = *self;
        let material = |elastic: Elastic| elastic.young_mpa > 0.0 && (0.0..=0.5).contains(&elastic.poisson);
        if !(outside > contact && contact > inside && inside >= 0.0 && material(outer) && material(inner)) {
            return None;
        }
        let thick =
            |large: f64, small: f64| (large * large + small * small) / ((large - small) * (large + small));
        let compliance = contact
            * ((thick(outside, contact) + outer.poisson) / outer.young_mpa
                + (thick(contact, inside) - inner.poisson) / inner.young_mpa);
        (compliance.is_finite() && compliance > 0.0).then_some(compliance)
    }

    /// Pressure between the rings, MPa, from the diametral interference in mm; 0 where there is none. `None` as
    /// for [`Self::compliance`] or for an interference that is not finite.
    pub fn pressure(&self, interference_mm: f64) -> Option<f64> {
        let pressure = interference_mm.max(0.0) / self.compliance()?;
        (interference_mm.is_finite() && pressure.is_finite()).then_some(pressure)
    }

    /// Greatest hoop stress of the outer ring, at its inside, per contact pressure; dimensionless.
    pub fn hoop_factor(&self) -> Option<f64> {
        self.compliance()?;
        let (outside, contact) = (self.outside_mm, self.contact_mm);
        let factor = (outside * outside + contact * contact) / ((outside - contact) * (outside + contact));
        factor.is_finite().then_some(factor)
    }
}
