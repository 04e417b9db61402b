package chain

// Version counts the changes that made the chain give other strikes or other
// windows for the same samples. It is kept with what was found, so that what an
// older version found can be told.
const Version = 1
