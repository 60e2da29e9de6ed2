package wire

import (
	"strings"

	"go.bug.st/serial/enumerator"
)

const usbHint = ""

// systemPorts asks the registry and the device database; no port is opened and
// no device is probed, because no filter asks for that.
func systemPorts() ([]Port, error) {
	details, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, err
	}
	var list []Port
	for _, d := range details {
		list = append(list, Port{
			Kind: KindSerial, Name: d.Name, VID: strings.ToUpper(d.VID), PID: strings.ToUpper(d.PID), Serial: d.SerialNumber, Product: d.Product,
		})
	}
	return list, nil
}
