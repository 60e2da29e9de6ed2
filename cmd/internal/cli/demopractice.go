package cli

// practice says how a job is lived through by hand: the demo's hands do it, the
// other commands tell steadyrail, as at a real bench. A test types every command
// in it, so a line is a heading, or commands behind two spaces, with what is to
// be known about them behind a #.
const practice = `Hands: http://%[2]s/demo?token=%[3]s
or, in another terminal:

  export STEADYRAIL_WORKSPACE=%[4]s
  alias h="steadyrail demo hands"
  h                               # where everything is, and what hands can do

Hands move the bench, the other commands tell steadyrail. Before a probe leaves a rail, say so:
place without a rail takes it off, else what it reads on its way is filed under the rail. The
screens, or steadyrail job show, say what came of it. One way through:

take-in
  steadyrail place thermo/celsius --point ambient --clipped
  steadyrail job indication "DSP fault"
cold checks: every rail in volts, then every rail in ohms; what is proven dead is so for a minute
  steadyrail job stage "cold checks"
  h probe dmm leads shorted clip  # the two probes held together
  steadyrail place dmm/ohms --point "leads shorted"
  steadyrail null dmm/ohms 0.18   # or what it reads
  steadyrail place dmm/ohms; h probe dmm off
  steadyrail walk                 # in a terminal of its own: it says the rail, hold it until "got it";
  h probe dmm TP5                 # any key there says that you are on it: a dead rail shows by nothing
  h probe dmm off; h probe dmm TP12
  h probe dmm off; h probe dmm TP13
  h probe dmm off; h probe dmm TP3
  h probe dmm off                 # and once more from TP5, in ohms, without the key
isolate: a few seconds before and after each lift
  steadyrail job stage isolate
  h feed TP5                      # a small current into the short, for a minute: it says what flows
  steadyrail inject supply --volts 0.3 --trace 1A --part 0.5A --lead 2A
  steadyrail output supply off; h feed board
  steadyrail isolate sheet "Alderbrook 88 supply board"
  h probe dmm TP5 clip; steadyrail place dmm/volts "+5 V logic" --point TP5
  steadyrail place dmm/ohms "+5 V logic" --point TP5 --clipped
  h part CN3 out; steadyrail isolate add lift CN3
  steadyrail isolate              # what the lift proved, what may be wrong, what to measure next
  h part CN3 in; steadyrail isolate add put back CN3
  h part PS2 out; steadyrail isolate add lift PS2
  steadyrail isolate              # a joint that was warm takes half a minute until its rail may pass
  steadyrail place dmm/ohms; h probe dmm PS2 pin out clip
  steadyrail place dmm/ohms --point "PS2 pin out" --clipped
  steadyrail isolate finding PS2
live checks, with PS2 out
  steadyrail place dmm/ohms; h probe dmm off
  steadyrail job stage "live checks"
  steadyrail limits supply --volts 24 --amps 1 --ovp 26 --ocp 1.5
  steadyrail output supply on     # refused while the cold check of a rail has not passed
  steadyrail walk                 # TP5, TP12, TP13, TP3 as before
  steadyrail output supply off
stand-in and preset
  steadyrail job stage stand-in
  steadyrail standin "$STEADYRAIL_WORKSPACE/demo-standin.yaml" --job %[1]s --keep
  steadyrail job stage preset
  h feed stand-in; h probe dmm stand-in out clip
  steadyrail place dmm/volts "+5 V logic" --point "stand-in out" --clipped
  steadyrail limits supply --volts 24 --amps 0.2 --ovp 26 --ocp 0.3
  steadyrail output supply on
  steadyrail trim 1 --once        # which way, and how far
  h turn 5; steadyrail trim 1 --turned 5
  steadyrail trim 1 --once        # and so on, until it is on target
  steadyrail trim 1 --mark --load 0 --input "24 V"
trim, fitted and under load
  steadyrail output supply off; steadyrail place dmm/volts
  h part stand-in in; h feed board
  steadyrail job part PS2 --type "step-down board" --from "own stock" --replaces "potted +5 V converter"
  steadyrail job stage trim
  h probe dmm off; h probe dmm TP5 clip    # fitted after its cold check: once more, or "on" is refused
  steadyrail place dmm/volts "+5 V logic" --point TP5
  steadyrail place dmm/ohms "+5 V logic" --point TP5 --clipped
  steadyrail place dmm/ohms; h probe dmm off
  h probe dmm TP5 clip; h probe dmm2 TP12 clip; h probe dmm3 TP13 clip; h probe dmm4 TP3 clip
  steadyrail place dmm/volts "+5 V logic" --point TP5 --clipped
  steadyrail place dmm2/volts "+12 V audio" --point TP12 --clipped
  steadyrail place dmm3/volts "-12 V audio" --point TP13 --clipped
  steadyrail place dmm4/volts "+3.3 V DSP" --point TP3 --clipped
  steadyrail limits supply --volts 24 --amps 1.5 --ovp 26 --ocp 2.25
  steadyrail output supply on
  steadyrail trim 1 --once        # and turn, as before
warm-up
  steadyrail job stage warm-up
  steadyrail place thermo/celsius; h probe thermo stand-in case clip
  steadyrail place thermo/celsius --point "stand-in case" --clipped
  h speed 60                      # half an hour in less than a minute
  steadyrail trim 1 --once; h speed 1
soak
  steadyrail job stage soak
  steadyrail soak plan --failed-every 20m
  steadyrail soak start --for 1h; h speed 60
  steadyrail soak show            # end this program, or kill it, and start it again: the soak goes on
  h speed 1; h fault input joint 1.8s
  steadyrail alarms               # alarms heard and alarms reset take what it names
  steadyrail limits supply --volts 24 --amps 1.5 --ovp 26 --ocp 0.8
  h fault load step 2.4 20s       # the supply's own protection trips; clear it there, then go on:
  h fault clear; h supply clear; steadyrail limits supply --volts 24 --amps 1.5 --ovp 26 --ocp 2.25
  steadyrail output supply on
sign-off
  steadyrail job stage sign-off
  steadyrail report %[1]s --out report.html
  steadyrail job close %[1]s       # the next start has another set

`
