// Package formula reads, checks and computes plain arithmetic over channels,
// as it is written in school: "(dmm/volts - dmm2/volts) / 0.1 ohm".
//
// The whole grammar; spaces may stand between the parts, and a division sign
// before or behind a channel needs one:
//
//	formula = product { ( "+" | "-" ) product } .
//	product = factor { ( "*" | "/" ) factor } .
//	factor  = "-" factor | number | channel | call | "(" formula ")" .
//	call    = name "(" formula { "," formula } ")" .
//	name    = "abs" | "sqrt" | "min" | "max" .
//	number  = digits [ "." digits ] [ ( "e" | "E" ) [ "+" | "-" ] digits ] [ unit ] .
//	unit    = [ prefix ] ( "V" | "A" | "ohm" | "Ω" | "F" | "Hz" | "W" | "s" ) | "K" | "degC" | "°C" | "%" .
//	prefix  = "p" | "n" | "u" | "µ" | "m" | "k" | "M" | "G" .
//	channel = letter { sign } "/" sign { sign } { "/" sign { sign } } | '"' any '"' .
//	sign    = letter | digit | "_" .
//	letter  = "A" .. "Z" | "a" .. "z" .
//	digits  = digit { digit } .
//	digit   = "0" .. "9" .
//	any     = what names a channel, with at least one "/": a name with a space or a minus is quoted .
//
// abs and sqrt take one argument, min and max two to eight. A text has at most
// [MostText] bytes, parts nest at most [MostDepth] deep, and there are at most
// [MostParts] of them, so that no text can exhaust the program.
//
// [Expr.Check] finds the dimension: powers of volt, ampere, second and kelvin.
// What cannot be added, compared or rooted is an error with its column. A
// temperature in °C is a point of a scale and no amount: the difference of two
// is in kelvin, kelvin may be added to one, and it cannot be multiplied, for
// twice 20 °C is nothing. The mean of two is written a + (b - a) / 2.
//
// [Expr.Eval] gives a finite figure or the reason why there is none. The same
// inputs give the same bits on every architecture. Nothing here reads a clock
// or starts a goroutine; an Expr never changes and is safe for concurrent use.
// The package knows only capture.
package formula
