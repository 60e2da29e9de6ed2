package poll

// Stamp is stamp.
var Stamp = stamp
