// Package trees grows regression trees, random forests and boosted trees for
// numbers and for bearings. It knows nothing of strikes.
//
// Features are put into at most 255 bins a column once (Table); every tree on
// them is grown from counts by bin. A target is a number a row, split by squared
// error (CART: Breiman, Friedman, Olshen and Stone 1984), or a bearing a row,
// split by the likelihood of a von Mises distribution on either side (Lang,
// Schlosser, Hothorn, Mayr, Stauffer and Zeileis 2020, Circular regression trees
// and forests, J. R. Stat. Soc. Series C, doi 10.1111/rssc.12437; they pick the
// feature by a test of independence, here all are tried), by resultant length or
// by squared error in the plane. A leaf holds the mean and the spread of its
// rows: of bearings the mean vector, whose direction is the mean bearing and
// whose length gives the concentration.
//
// A forest (Breiman 2001, Machine Learning 45) averages its leaves' means. That
// is the mean of the distribution that weighs each training row by how often it
// shares a leaf with the row asked for (Meinshausen 2006, J. Mach. Learn. Res.
// 7), so that spread and concentration follow. Boosting adds small trees, each
// fitted to what the ones before have left (Friedman 2001, Ann. Stat. 29).
//
// Turning every bearing turns every answer. The same rows, seed and options give
// the same trees and answers on any number of processors. Answers for one row do
// not allocate.
package trees
