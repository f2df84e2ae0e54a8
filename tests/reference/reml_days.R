# Invented days of testing, judged by lme4 (REML) and pbkrtest (Kenward-Roger). Writes reml_days.json.
#
# lme4's own optimiser stops at a relative error of about 1e-4 in a variance ratio. Here the optimum comes from Newton's
# method on the exact gradient, lme4's model is rebuilt at it, and pbkrtest works on that model. Every reading, part and
# engine is invented.
here <- dirname(normalizePath(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])))
source(file.path(here, "tools.R"))
source(file.path(here, "fit_day.R"))
source(file.path(here, "invented.R"))

# --- the invented days ------------------------------------------------------------------------------------------------

days <- list()
add <- function(day) days[[length(days) + 1]] <<- day

set.seed(20260516)
columns <- oil_day(c(B, C), rep(4, 6))
add(make_day("balanced oil", "One oil against another, three fittings of each, four pulls a fitting.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.6), steady(-0.12), list(install = 0.5), 0.55),
             "oil=0W-20", "install"))

columns <- oil_day(c(B, C), c(2, 5, 3, 6, 1, 4, 3))
add(make_day("unbalanced oil", "Unequal numbers of pulls in seven fittings.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.2), steady(-0.2), list(install = 0.6), 0.5),
             "oil=0W-20", "install"))

columns <- oil_day(c(B, C), rep(4, 7))
lost <- c(3, 9, 10, 17, 18, 19, 26)
columns <- keep_rows(columns, -lost)
add(make_day("lost pulls", "Seven of twenty-eight pulls lost, one fitting left with a single pull.", columns,
             readings(columns, 210, list("oil=0W-20" = 0.8), steady(-0.1), list(install = 0.7), 0.6),
             "oil=0W-20", "install"))

columns <- oil_day(c(B, C), rep(3, 9))
add(make_day("quadratic drift", "Fast drift that slows down, fitted by a quadratic.", columns,
             readings(columns, 198, list("oil=0W-20" = 1.0), function(h) -1.2 * h + 0.09 * h^2, list(install = 0.5), 0.5),
             "oil=0W-20", "install", drift = "quadratic"))

columns <- oil_day(c(B, C), rep(3, 8))
add(make_day("no drift", "The same with no drift in the model.", columns,
             readings(columns, 201, list("oil=0W-20" = -0.9), steady(0), list(install = 0.45), 0.5),
             "oil=0W-20", "install", drift = "none"))

columns <- lay_out(list(oil = rep(c(B, C), each = 3, times = 3), vacuum = c("off", "on", "off")), rep(2, 18),
                   changeover = c(25, 2, 2))
columns$install <- fittings(columns$oil, columns$stint)
columns$stint <- NULL
add(make_day("oil and vacuum", "One refitted part, and a quick change switched inside every fitting.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.5, "vacuum=on" = 1.9), steady(-0.12), list(install = 0.4), 0.55),
             c("oil=0W-20", "vacuum=on"), "install"))

trim_orders <- list(c("off", "off", "off", "off"), c("on", "off", "off", "off"), c("off", "2 deg", "off", "off"),
                    c("off", "off", "rich", "off"), c("off", "off", "off", "short"), c("on", "2 deg", "off", "off"),
                    c("off", "off", "rich", "short"))
pick <- unlist(lapply(1:6, function(i) sample(1:7)))
trims <- do.call(rbind, trim_orders[pick])
columns <- lay_out(list(oil = rep(c(B, C), each = 7, times = 3), vacuum = trims[, 1], timing = trims[, 2],
                        jets = trims[, 3], trumpets = trims[, 4]), rep(1, 42), changeover = c(25, rep(2, 6)))
columns$install <- fittings(columns$oil, columns$stint)
columns$stint <- NULL
add(make_day("oil and four trims", "One refitted part and four quick trims, at most two away from baseline at once.",
             columns,
             readings(columns, 205, list("oil=0W-20" = 1.1, "vacuum=on" = 1.4, "timing=2 deg" = 0.6, "jets=rich" = -0.4,
                                         "trumpets=short" = -1.2), steady(-0.1), list(install = 0.5), 0.5),
             c("oil=0W-20", "vacuum=on", "timing=2 deg", "jets=rich", "trumpets=short"), "install"))

columns <- several_days(function(i) oil_day(if (i %% 2) c(B, C) else c(C, B), c(3, 2, 3, 4)), 5)
columns$install <- as.integer(factor(paste(columns$day, columns$install), unique(paste(columns$day, columns$install))))
y <- readings(columns, 204, list("oil=0W-20" = 1.0), steady(-0.15), list(day = 0.8, install = 0.5), 0.5)
add(make_day("five days, random", "Fittings within five days, the days random: two random effects.", columns, y,
             "oil=0W-20", c("day", "install"), days = "random"))
add(make_day("five days, fixed", "The same pulls, one fixed level a day.", columns, y,
             "oil=0W-20", "install", days = "fixed"))

columns <- oil_day(c(B, C, "5W-30", B, "10W-40", C, B, "5W-30", "10W-40"), c(3, 2, 3, 2, 3, 3, 2, 2, 3))
add(make_day("three oils", "Three changes of one factor.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.7, "oil=5W-30" = 1.1, "oil=10W-40" = 0.3), steady(-0.15),
                      list(install = 0.35), 0.5),
             c("oil=0W-20", "oil=5W-30", "oil=10W-40"), "install"))

set.seed(31)
columns <- oil_day(c(B, C), c(4, 3, 4, 2, 4, 3))
add(make_day("boundary, unbalanced", "The estimate of the install SD is 0.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.0), steady(-0.1), list(install = 0), 0.6),
             "oil=0W-20", "install"))

set.seed(15)
columns <- lay_out(list(oil = rep(c(B, C), each = 3, times = 3), vacuum = c("off", "on", "off")),
                   c(2, 2, 1, 2, 1, 2, 1, 2, 2, 2, 3, 1, 2, 2, 2, 1, 2, 2), changeover = c(25, 2, 2))
columns$install <- fittings(columns$oil, columns$stint)
columns$stint <- NULL
add(make_day("boundary, quick change and quadratic", "The install SD at 0 with a quick change and quadratic drift.",
             columns,
             readings(columns, 205, list("oil=0W-20" = 0.7, "vacuum=on" = 1.5), function(h) -0.5 * h + 0.05 * h^2,
                      list(install = 0.05), 0.6),
             c("oil=0W-20", "vacuum=on"), "install", drift = "quadratic"))

set.seed(4)
columns <- several_days(function(i) oil_day(c(B, C, B, C), c(3, 3, 2, 3)), 4)
columns$install <- as.integer(factor(paste(columns$day, columns$install), unique(paste(columns$day, columns$install))))
add(make_day("boundary, days random", "The day SD at 0, the install SD above it.", columns,
             readings(columns, 204, list("oil=0W-20" = 1.2), steady(-0.1), list(day = 0, install = 0.8), 0.5),
             "oil=0W-20", c("day", "install"), days = "random"))

set.seed(77)
columns <- two_parts(c(B, C, C, B, B, C, C, B, B, C, C, B), rep(c("stock", "long", "stock", "long"), c(2, 4, 4, 2)),
                     c(3, 2, 3, 2, 3, 2, 2, 3, 2, 3, 2, 3))
y <- readings(columns, 205, list("oil=0W-20" = 1.1, "headers=long" = 2.4), steady(-0.1),
              list(oil_fitting = 0.6, headers_fitting = 0.5), 0.5)
add(make_day("two refitted parts", "Fittings of two parts that cross, a variance for each part.", columns, y,
             c("oil=0W-20", "headers=long"), c("oil_fitting", "headers_fitting")))
add(make_day("two refitted parts, common variance", "The same pulls, one install variance for both parts.", columns, y,
             c("oil=0W-20", "headers=long"), c("oil_fitting", "headers_fitting"), common_variance = TRUE))

columns <- two_parts(c(B, C, B, B, C, B, C, C, B, C), c("stock", "stock", "stock", "long", "long", "stock", "stock",
                                                        "long", "long", "stock"), c(2, 3, 2, 3, 2, 3, 2, 2, 3, 2))
columns$vacuum <- rep_len(c("off", "on"), length(columns$minute))
add(make_day("two refitted parts and vacuum, common variance",
             "Two parts refitted by turns, a quick change from pull to pull, one install variance.", columns,
             readings(columns, 190, list("oil=0W-20" = 0.8, "headers=long" = -1.0, "vacuum=on" = 1.2), steady(0.2),
                      list(oil_fitting = 0.5, headers_fitting = 0.5), 0.4),
             c("oil=0W-20", "headers=long", "vacuum=on"), c("oil_fitting", "headers_fitting"), common_variance = TRUE))

set.seed(1066)
columns <- oil_day(c(B, C, B, "5W-30"), rep(c(5, 4, 6, 5), length.out = 16), changeover = 15, pull_minutes = 3)
add(make_day("eighty pulls", "Sixteen fittings of three oils, eighty pulls.", columns,
             readings(columns, 205, list("oil=0W-20" = 0.9, "oil=5W-30" = 0.4), steady(-0.05), list(install = 0.3), 0.55),
             c("oil=0W-20", "oil=5W-30"), "install"))

columns <- oil_day(c(B, C), rep(2, 4))
add(make_day("tiny day", "Eight pulls in four fittings.", columns,
             readings(columns, 150, list("oil=0W-20" = 1.5), steady(0), list(install = 0.5), 0.4),
             "oil=0W-20", "install", drift = "none"))

columns <- oil_day(c(B, C), c(4, 4, 3, 4, 4, 3))
add(make_day("large level", "Readings near 400 with a pull SD near 0.5, printed to three decimals.", columns,
             readings(columns, 412, list("oil=0W-20" = 0.6), steady(-0.1), list(install = 0.5), 0.5, digits = 3),
             "oil=0W-20", "install"))

columns <- oil_day(c(B, C), c(3, 4, 3, 4, 3, 4))
add(make_day("large refitting noise", "The install SD is twelve pull SDs.", columns,
             readings(columns, 300, list("oil=0W-20" = 4), steady(-0.5), list(install = 3.6), 0.3),
             "oil=0W-20", "install"))

columns <- oil_day(B, rep(3, 12), fresh = 1:12)
order <- as.vector(replicate(6, sample(c(B, C))))
columns$oil <- order[columns$install]
add(make_day("randomised pairs", "Six back-to-back pairs drawn at random, every slot a fresh refit.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.0), steady(-0.1), list(install = 0.5), 0.5),
             "oil=0W-20", "install"))

set.seed(8)
columns <- several_days(function(i) {
  one <- oil_day(if (i == 1) c(B, C, B, C) else c(C, B, C), if (i == 1) c(3, 3, 2, 3) else c(3, 4, 3))
  one$install <- one$install + (i - 1) * 3  # the oil left in overnight is one fitting: 4 on both days
  one
}, 2)
add(make_day("two days, oil left in overnight", "A fitting that lasts from one day into the next, days fixed.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.3, "day=day 2" = -1.1), steady(-0.15), list(install = 0.5), 0.5),
             "oil=0W-20", "install", days = "fixed"))

set.seed(38)
columns <- oil_day(c(B, C), c(5, 3, 4, 5, 3, 4, 5))
add(make_day("nearly at the boundary", "An install variance that is small but above 0.", columns,
             readings(columns, 205, list("oil=0W-20" = 0.9), steady(-0.1), list(install = 0.15), 0.6),
             "oil=0W-20", "install"))

set.seed(12)
columns <- lay_out(list(oil = c(B, C, C, B, B, C), fuel = c("pump", "pump", "blend", "blend", "pump", "blend")),
                   c(4, 3, 4, 3, 4, 3))
columns$install <- columns$stint
columns$stint <- NULL
add(make_day("two changes at once", "Oil and fuel changed together at some changeovers, one label for both.", columns,
             readings(columns, 205, list("oil=0W-20" = 1.0, "fuel=blend" = 0.6), steady(-0.1), list(install = 0.4), 0.5),
             c("oil=0W-20", "fuel=blend"), "install"))

set.seed(1)
columns <- two_parts(c(B, C, B, B, C, B, C, C, B, C), c("stock", "stock", "stock", "long", "long", "stock", "stock",
                                                        "long", "long", "stock"), c(3, 2, 2, 3, 2, 3, 2, 2, 2, 3))
add(make_day("boundary, two refitted parts", "Two parts with a variance each, both estimated as 0.", columns,
             readings(columns, 190, list("oil=0W-20" = 0.8, "headers=long" = -1.0), steady(0.2),
                      list(oil_fitting = 0, headers_fitting = 0), 0.4),
             c("oil=0W-20", "headers=long"), c("oil_fitting", "headers_fitting")))

results <- lapply(days, fit_day)
write_reference(list(
  about = "Invented days of testing (no real engine, part or cell), judged by lme4 REML and pbkrtest Kenward-Roger.",
  how = paste(
    "REML bounded at zero; the optimum by Newton's method in error contrasts, from a grid of starts with every set of",
    "components at zero tried; lme4's model rebuilt at it; pbkrtest's vcovAdj and Lb_ddf (one contrast at a time).",
    "At the boundary the zero is plugged in and all components stay in W. Where common_variance is true",
    "(which lme4 has no formula for) G is the sum of the Z Z' of the grouping columns and pbkrtest's own vcovAdj_internal",
    "is called on it."),
  columns = paste(
    "fixed_columns: baseline = 1; change1.. in the order of `changes`; hours = (minute - mean minute of all pulls)/60,",
    "hours2 its square; day2.. one column for each day but the first (days = fixed). grouping: columns with a random",
    "intercept each. minute counts from each day's own start. loglik is lme4's REML log-likelihood, with",
    "log|X'V^-1 X| and without log|X'X|, so it depends on the columns of X as stated. percent: gains in percent of the",
    "baseline at the column means of X with all changes off (null with quadratic drift), by the delta method, with",
    "Kenward-Roger SE and df of the contrast gain - (gain/b) b; baseline_se is Kenward-Roger's too."),
  relative_error_reached = max(sapply(results, `[[`, "relative_error_reached")),
  days = results
), c("lme4", "pbkrtest", "nlme", "Matrix", "jsonlite"))
