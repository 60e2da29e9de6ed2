package capture

var quantityWords = [...]string{
	DCVoltage: "DC voltage", ACVoltage: "AC voltage", DCCurrent: "DC current", ACCurrent: "AC current",
	Resistance: "resistance", DiodeDrop: "the drop of a junction", Capacitance: "capacitance", Frequency: "frequency",
	Temperature: "temperature", Power: "power", Ratio: "a ratio",
}

// Words is what a sentence calls the quantity; [Quantity.String] is its name in
// configuration, files and the API. Nothing is measured in none.
func (q Quantity) Words() string {
	if q == NoQuantity || int(q) >= len(quantityWords) {
		return "nothing that is known here"
	}
	return quantityWords[q]
}
