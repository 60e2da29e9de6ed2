// Package thermal turns what a meter reads at a temperature sensor into degrees
// Celsius: thermocouples of type K, J and T from volts and the temperature of
// their cold junction, platinum resistors and thermistors from ohms.
//
// It is computation only: no clock, no instrument, no memory. Everything in it
// may be used by any goroutine.
//
// # What is promised
//
// A [Sensor] works both ways, and tells its slope in kelvin per volt or ohm, so
// that a resolution and a limit of error of the meter carry over. What lies
// outside the range for which a function was published gives a flag and no
// number, as do an open sensor and a missing cold junction: a temperature that
// is made up is worse than none.
//
// # What cannot be told
//
// An open thermocouple at an input of 10 MΩ reads about 0 V, which is the
// temperature of the cold junction to the last digit. Only a meter that breaks
// the circuit test by itself, or a look at the sensor warmed by hand, tells.
package thermal
