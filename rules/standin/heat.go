package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// LinearLoss is what a linear regulator turns into heat, in watt:
// P = (Vin−Vout)·I + Vin·Iq (data sheets' application pages).
func LinearLoss(in, out, load, quiescent float64) float64 {
	return float64((in-out)*load) + float64(in*quiescent)
}

// SwitchedLoss is what a converter of a stated efficiency turns into heat, in
// watt: Pout·(1/η − 1).
func SwitchedLoss(out, load, efficiency float64) float64 {
	return float64(float64(out*load) * (1/efficiency - 1))
}

// Hot is a junction's temperature: Tj = Ta + P·θ.
func Hot(ambient, watts, perWatt float64) float64 { return ambient + float64(watts*perWatt) }

// Junction works a junction's temperature out from the top of a package, with
// its expanded uncertainty: Tj = Ttop + ψ·P (JESD51-2A, from memory), with
// u² = u²(T) + (ψ·u(P))² + (P·u(ψ))². The doubts are expanded ones, k = 2.
func Junction(top, watts, psi Figure) (celsius, u float64) {
	return top.Value + float64(psi.Value*watts.Value), root(top.U, psi.Value*watts.U, watts.Value*psi.U)
}

// heat asks for the junction at the hottest ambient, the steady load and the
// input that makes most heat.
func heat(n Need, c Candidate) Check {
	load, ambient, per, most := named{"load", n.Load}, named{"ambient", n.Ambient}, named{"thermal resistance", c.PerWatt}, named{"highest junction", c.Junction}
	used := []named{load, ambient, per, most}
	if c.Topology == Linear {
		used = append(used, named{"highest input", n.InHigh}, named{"quiescent current", c.Quiescent})
	} else {
		used = append(used, named{"efficiency", c.Efficiency})
	}
	if missing := lack(used...); len(missing) > 0 {
		return unsaid(missing)
	}
	watts, uw := loss(n, c)
	junction := Hot(n.Ambient.Value, watts, c.PerWatt.Value)
	u := root(n.Ambient.U, c.PerWatt.Value*uw, watts*c.PerWatt.U)
	check := Check{
		Word: under(junction, c.Junction.Value, u), Value: junction, Limit: c.Junction.Value, Unit: capture.Celsius.ASCII(),
		Basis: "Tj = Ta + P·θ; θ of the mounting as it is here, a data sheet's holds for its own board only", Source: sources(used...),
	}
	check.Say = fmt.Sprintf("It turns %s into heat and its junction comes to %s ± %s; %s is allowed.", text(capture.Watt, watts), text(capture.Celsius, junction), text(capture.Celsius, u), text(capture.Celsius, c.Junction.Value))
	if check.Word != Fits {
		check.Say += wants(n, c, watts, u)
	}
	return check
}

// PerWattMost is the thermal resistance in K/W, junction to air, that keeps a
// junction at its most: (Tj − Ta)/P (regulators' data sheets).
func PerWattMost(most, ambient, watts float64) float64 { return (most - ambient) / watts }

// wants says which cooling would do. With what is measured of the resistance now,
// its doubt goes with it.
func wants(n Need, c Candidate, watts, u float64) string {
	most := PerWattMost(c.Junction.Value-u, n.Ambient.Value, watts)
	if most <= 0 {
		return " No cooling makes up for that."
	}
	return fmt.Sprintf(" At most %.3g K/W from junction to air would do.", most)
}

// loss is the heat and its expanded uncertainty, in watt.
func loss(n Need, c Candidate) (watts, u float64) {
	out := math.Abs(n.Rail.Target)
	if c.Topology == Linear {
		in := math.Abs(n.InHigh.Value)
		return LinearLoss(in, out, n.Load.Value, c.Quiescent.Value), root(n.Load.U*(in-out), n.InHigh.U*n.Load.Value)
	}
	per := float64(out * (1/c.Efficiency.Value - 1))
	return SwitchedLoss(out, n.Load.Value, c.Efficiency.Value), root(n.Load.U*per, float64(out*n.Load.Value)*c.Efficiency.U/float64(c.Efficiency.Value*c.Efficiency.Value))
}
