package pgtest

// DropTogether is how many databases are dropped at once.
const DropTogether = dropTogether
