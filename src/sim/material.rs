//! What is being heated: a sample as two heat stores, and the presets of the green-roof bench.

/// A sample and the probe that touches it.
///
/// The surface takes up the light, gives heat to the air and, where it is wet, to evaporation, and
/// passes heat on to the bulk below it.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleSpec {
    /// The sample's name.
    pub name: String,
    /// Heat capacity of the surface in J/K, greater than 0.
    pub surface_j_per_k: f64,
    /// Heat capacity of the bulk in J/K, greater than 0.
    pub bulk_j_per_k: f64,
    /// Conductance from surface to air in W/K, greater than 0.
    pub surface_air_w_per_k: f64,
    /// Conductance from surface to bulk in W/K, 0 or more.
    pub surface_bulk_w_per_k: f64,
    /// Conductance from bulk to air in W/K, greater than 0.
    pub bulk_air_w_per_k: f64,
    /// Evaporation, made linear: conductance in W/K, 0 for a dry sample, …
    pub wet_w_per_k: f64,
    /// … towards a temperature this far below the air's, in degrees Celsius, 0 or more.
    pub wet_below_air_degc: f64,
    /// Power of the lamp that the surface takes up, in W, 0 or more.
    pub lamp_w: f64,
    /// Power of a clear noon's sun that the surface takes up, in W, 0 or more.
    pub sun_w: f64,
    /// How far above its resting temperature the sample starts, in degrees Celsius.
    pub start_above_rest_degc: f64,
    /// The probe on it.
    pub probe: ProbeSpec,
}

/// A probe's tip.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeSpec {
    /// First-order lag in seconds, 0 or more.
    pub lag_s: f64,
    /// What the probe reads too much, in degrees Celsius.
    pub offset_degc: f64,
}

impl SampleSpec {
    /// A tray of roof slate, dry and dark: warms and cools fast. The numbers are invented so that
    /// ten minutes under the lamp give about 12 °C; they are no property of slate.
    #[must_use]
    pub fn slate() -> Self {
        Self {
            name: "slate".to_owned(),
            surface_j_per_k: 34.0,
            bulk_j_per_k: 80.0,
            surface_air_w_per_k: 0.27,
            surface_bulk_w_per_k: 1.1,
            bulk_air_w_per_k: 0.09,
            wet_w_per_k: 0.0,
            wet_below_air_degc: 0.0,
            lamp_w: 4.95,
            sun_w: 5.5,
            start_above_rest_degc: 0.0,
            probe: ProbeSpec {
                lag_s: 6.0,
                offset_degc: 0.06,
            },
        }
    }

    /// A tray of wet moss: slow, and evaporation takes a share of the heat. The numbers are
    /// invented so that ten minutes under the lamp give about 6 °C; they are no property of moss.
    #[must_use]
    pub fn moss() -> Self {
        Self {
            name: "moss".to_owned(),
            surface_j_per_k: 70.0,
            bulk_j_per_k: 260.0,
            surface_air_w_per_k: 0.27,
            surface_bulk_w_per_k: 0.7,
            bulk_air_w_per_k: 0.08,
            wet_w_per_k: 0.16,
            wet_below_air_degc: 3.0,
            lamp_w: 4.4,
            sun_w: 4.9,
            start_above_rest_degc: 0.0,
            probe: ProbeSpec {
                lag_s: 6.0,
                offset_degc: -0.04,
            },
        }
    }

    /// Whether every number is finite and within the range stated at its field.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        let above_zero = [
            self.surface_j_per_k,
            self.bulk_j_per_k,
            self.surface_air_w_per_k,
            self.bulk_air_w_per_k,
        ];
        let zero_or_more = [
            self.surface_bulk_w_per_k,
            self.wet_w_per_k,
            self.wet_below_air_degc,
            self.lamp_w,
            self.sun_w,
            self.probe.lag_s,
        ];
        above_zero.iter().all(|v| v.is_finite() && *v > 0.0)
            && zero_or_more.iter().all(|v| v.is_finite() && *v >= 0.0)
            && self.start_above_rest_degc.is_finite()
            && self.probe.offset_degc.is_finite()
    }
}
