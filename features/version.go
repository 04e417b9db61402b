package features

// Version counts the changes that made Extract give other values or columns
// for the same window.
const Version = 1
