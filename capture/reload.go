package capture

// ByReload is who put other rules in force when a configuration was read again.
const ByReload = "reload"
