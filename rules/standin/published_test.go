package standin

// published is what converters_and_regulators.json holds.
type published struct {
	Stage struct {
		Cases []struct {
			In struct {
				InMax float64 `json:"Vin_max"`
				Out   float64 `json:"Vout"`
				Eta   float64 `json:"eta"`
				F     float64 `json:"f_s"`
				L     float64 `json:"L_uH"`
				I     float64 `json:"I_out"`
				VF    float64 `json:"V_F"`
			} `json:"in"`
			Out struct {
				D      float64 `json:"D"`
				Ripple float64 `json:"ripple_A"`
				Peak   float64 `json:"I_sw_max"`
				Diode  float64 `json:"I_F_avg"`
				Loss   float64 `json:"P_D"`
			} `json:"out"`
		} `json:"computed_cases"`
	} `json:"buck_power_stage"`
	Buck struct {
		Examples []struct {
			Part string  `json:"part"`
			Form string  `json:"form"`
			In   float64 `json:"V_in_max"`
			Out  float64 `json:"V_out"`
			I    float64 `json:"I_out"`
			F    float64 `json:"f_sw"`
			L    float64 `json:"L_chosen_uH"`
			Pub  struct {
				Ripple float64 `json:"ripple_A"`
				Peak   float64 `json:"I_peak"`
				RMS    float64 `json:"I_rms"`
				LMin   float64 `json:"L_min_uH"`
			} `json:"published"`
			K float64 `json:"K_ind"`
		} `json:"examples"`
	} `json:"datasheet_buck_examples"`
	Simple struct {
		Examples []struct {
			Out  float64 `json:"Vout"`
			In   float64 `json:"Vin_max"`
			R1   float64
			R2   float64 `json:"R2_published"`
			Near float64 `json:"nearest_1_percent"`
			ET   float64 `json:"ET_published"`
		} `json:"examples"`
	} `json:"lm2576_lm2575"`
	Table struct {
		Divider struct {
			Ref  float64      `json:"V_ref"`
			Rows [][3]float64 `json:"rows"`
		} `json:"divider_table"`
		StepDown struct {
			In struct {
				Min    float64 `json:"Vin_min"`
				Sat    float64 `json:"Vsat"`
				VF     float64 `json:"VF"`
				Out    float64 `json:"Vout"`
				I      float64 `json:"Iout"`
				F      float64 `json:"f_min"`
				Ripple float64 `json:"V_ripple_pp"`
			} `json:"inputs"`
			Out struct {
				Ratio float64 `json:"ton_over_toff"`
				On    float64 `json:"ton_us"`
				Off   float64 `json:"toff_us"`
				Peak  float64 `json:"I_pk_mA"`
				L     float64 `json:"L_min_uH"`
				C     float64 `json:"Co_uF"`
			} `json:"recomputed"`
		} `json:"an920_step_down_example"`
	} `json:"mc34063"`
	Loss struct {
		Worked struct {
			In    float64 `json:"V_in"`
			Out   float64 `json:"V_out"`
			I     float64 `json:"I_out"`
			Q     float64 `json:"I_q"`
			Ta    float64 `json:"T_a"`
			Most  float64 `json:"Tj_max"`
			P     float64 `json:"P_published"`
			Theta float64 `json:"RthJA_max_published"`
		} `json:"worked_example"`
		Second struct {
			In    float64 `json:"V_in"`
			Out   float64 `json:"V_out"`
			I     float64 `json:"I_out"`
			Ta    float64 `json:"T_a"`
			Theta float64 `json:"Rth"`
			P     float64 `json:"P"`
			Tj    float64 `json:"T_j"`
		} `json:"second_example"`
	} `json:"linear_regulator_dissipation"`
	Regulation struct {
		Examples []struct {
			Light float64 `json:"V_light"`
			Full  float64 `json:"V_full"`
			Load  float64 `json:"load_regulation_percent"`
		} `json:"examples"`
	} `json:"regulation_definitions"`
	Chain struct {
		Examples []struct {
			P  float64   `json:"P"`
			Th []float64 `json:"th"`
			Ta float64   `json:"Ta"`
			Tj float64   `json:"Tj"`
			Tc float64   `json:"Tc"`
			To float64   `json:"th_sa_max_for_125C"`
		} `json:"examples"`
	} `json:"thermal_chain"`
}
