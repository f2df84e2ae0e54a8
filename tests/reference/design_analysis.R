# What a test of known precision finds of a true gain, when its standard error comes with few degrees of freedom: power
# and wrong sign from pt() with a noncentrality, the mean size of what is found by integrate() over the scale.
# Rscript tests/reference/design_analysis.R
source(file.path(dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])), "tools.R"))

of <- function(ratio, df) {
  t <- qt(0.975, df)
  right <- pt(t, df, ncp = ratio, lower.tail = FALSE)
  wrong <- pt(t, df, ncp = -ratio, lower.tail = FALSE)
  # s = sqrt(chi2/df); E |x| over x ~ N(ratio, 1) beyond t s either way, given s.
  size <- function(s) {
    up <- t * s - ratio
    down <- t * s + ratio
    (dnorm(up) + ratio * pnorm(-up) + dnorm(down) - ratio * pnorm(-down)) * dchisq(df * s^2, df) * 2 * df * s
  }
  mean_size <- integrate(size, 0, 12, rel.tol = 1e-10, subdivisions = 2000L)$value
  list(ratio = ratio, df = df, power = right + wrong, wrong_sign = wrong / (right + wrong),
       exaggeration = mean_size / ((right + wrong) * ratio))
}

grid <- expand.grid(ratio = c(0.05, 0.5, 1, 2, 3.5, 6), df = c(2, 3, 4, 7, 30))
# Those of audit_cases.json that come with degrees of freedom: typical gain over SE, df.
audited <- list(c(3.9 / 1.7896193375, 49.53080132),
              c(4.2 / 0.97979589711, 10),
              c(4.2 / 1.6062378404, 72.2265625))
pairs <- c(Map(c, grid$ratio, grid$df), audited)
write_reference(list(cases = lapply(pairs, function(one) of(one[1], one[2]))), "jsonlite")
