//! The analysis core's input: one time axis, one column per sample.

/// One sample's temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// The sample's name as people gave it.
    pub name: String,
    /// Temperatures in degrees Celsius on the series' time axis; NaN where there is no value.
    pub degc: Vec<f64>,
    /// Smallest step that a reading can show, in degrees Celsius, where it is known.
    pub resolution_degc: Option<f64>,
    /// Standard uncertainty common to all readings of this channel (calibration, resistor
    /// tolerance), in degrees Celsius, where it is known.
    pub u_common_degc: Option<f64>,
}

/// A run's temperatures: all channels on one strictly increasing time axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// Times in seconds, finite and strictly increasing, in the input's own time base.
    pub t_s: Vec<f64>,
    /// The samples; every column is as long as `t_s`.
    pub channels: Vec<Channel>,
}
