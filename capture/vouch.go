package capture

// ActVouch is the act of a person who knows better than what is stated about an
// instrument's rating. Subject is "INSTRUMENT on RAIL", Text the reason. It counts
// for the rest of the job, and never on the mains side.
const ActVouch Verb = "vouch"
