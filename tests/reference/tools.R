# Helpers of the reference scripts: a REML optimum found to rounding error, Kenward-Roger inference by pbkrtest, and the
# JSON files. R is needed only to make the files anew, never to use or to test the program.
suppressPackageStartupMessages({
  library(Matrix)
  library(lme4)
  library(pbkrtest)
  library(jsonlite)
})

script_path <- function() {
  file <- grep("^--file=", commandArgs(FALSE), value = TRUE)
  normalizePath(sub("^--file=", "", file[1]))
}

# Lists of plain numbers or words take one line each.
in_one_line <- function(text) {
  found <- gregexpr("\\[\\s[^][{}]*\\]", text, perl = TRUE)
  regmatches(text, found) <- lapply(regmatches(text, found), function(part) {
    part <- gsub("\\s*\n\\s*", " ", part, perl = TRUE)
    gsub(" \\]$", "]", gsub("^\\[ ", "[", part))
  })
  text
}

# Write `content` beside the script, with the script's name and the versions of R and of the packages used.
write_reference <- function(content, packages, name = NULL) {
  script <- script_path()
  if (is.null(name)) name <- sub("\\.R$", ".json", basename(script))
  versions <- lapply(setNames(packages, packages), function(p) packageDescription(p)$Version)
  head <- list(
    made_by = basename(script),
    versions = c(list(R = paste(R.version$major, R.version$minor, sep = ".")), versions)
  )
  text <- toJSON(c(head, content), auto_unbox = TRUE, digits = NA, na = "null", null = "null", pretty = 1)
  text <- in_one_line(text)
  writeLines(text, file.path(dirname(script), name))
}

# --- REML by Newton's method in error contrasts -----------------------------------------------------------------------

indicator <- function(labels) {
  labels <- factor(labels, levels = unique(labels))
  z <- matrix(0, length(labels), nlevels(labels))
  z[cbind(seq_along(labels), as.integer(labels))] <- 1
  z
}

# Orthonormal basis of everything that the columns of x do not reach.
error_contrasts <- function(x) {
  q <- qr(x, tol = 1e-11)
  qr.Q(q, complete = TRUE)[, -seq_len(q$rank), drop = FALSE]
}

# The REML log-likelihood in error contrasts (a constant away from lme4's), its gradient and its Hessian.
reml_parts <- function(theta, w, g) {
  v <- Reduce(`+`, Map(`*`, theta, g))
  root <- chol(v)
  inverse <- chol2inv(root)
  u <- inverse %*% w
  gi <- lapply(g, function(a) inverse %*% a)
  gu <- lapply(g, function(a) a %*% u)
  k <- length(g)
  hessian <- matrix(0, k, k)
  for (i in seq_len(k)) for (j in seq_len(k)) {
    hessian[i, j] <- 0.5 * sum(gi[[i]] * t(gi[[j]])) - sum(gu[[i]] * (inverse %*% gu[[j]]))
  }
  list(
    value = -sum(log(diag(root))) - 0.5 * sum(w * u) - 0.5 * length(w) * log(2 * pi),
    gradient = sapply(seq_len(k), function(i) -0.5 * sum(diag(gi[[i]])) + 0.5 * sum(u * gu[[i]])),
    hessian = hessian
  )
}

# Maximum of `parts` (a function of theta) with all components above zero, from one start; NULL when it leaves the inside.
newton <- function(theta, parts) {
  here <- parts(theta)
  for (step in 1:200) {
    scale <- outer(theta, theta)
    information <- -here$hessian * scale
    roots <- eigen(information, symmetric = TRUE)
    if (min(roots$values) <= 1e-8 * max(abs(roots$values)))
      information <- roots$vectors %*% (pmax(abs(roots$values), 1e-3 * max(abs(roots$values))) * t(roots$vectors))
    move <- theta * solve(information, here$gradient * theta)
    fraction <- 1
    repeat {
      trial <- theta + fraction * move
      if (all(trial > 0)) {
        there <- parts(trial)
        if (there$value >= here$value - 1e-13 * abs(here$value)) break
      }
      fraction <- fraction / 2
      if (fraction < 1e-9) return(if (max(abs(here$gradient * theta)) < 1e-9) theta else NULL)
    }
    theta <- trial
    here <- there
    if (any(theta < 1e-12 * sum(theta))) return(NULL)
    if (fraction == 1 && max(abs(move / trial)) < 1e-14) break
  }
  if (max(abs(here$gradient * theta)) < 1e-9) theta else NULL
}

# Bounded REML: every set of components at zero is tried, each from a grid of starts; the last component is the residual.
# `positive` marks components that cannot be zero.
reml_optimum <- function(y, x, g, positive = c(rep(FALSE, length(g) - 1), TRUE)) {
  k <- error_contrasts(x)
  w <- drop(crossprod(k, qr.resid(qr(x, tol = 1e-11), y)))
  gk <- lapply(g, function(a) crossprod(k, a %*% k))
  size <- sum(w^2) / length(w)
  count <- length(g)
  best <- list(value = -Inf)
  for (zeros in 0:(2^(count - 1) - 1)) {
    free <- c(bitwAnd(zeros, 2^(seq_len(count - 1) - 1)) == 0, TRUE)
    if (any(positive & !free)) next
    starts <- as.matrix(expand.grid(rep(list(c(0.02, 0.3, 2, 20)), sum(free) - 1)))
    if (sum(free) == 1) starts <- matrix(0, 1, 0)
    for (s in seq_len(nrow(starts))) {
      shape <- c(starts[s, ], 1)
      found <- newton(size * shape / sum(shape), function(theta) reml_parts(theta, w, gk[free]))
      if (is.null(found)) next
      theta <- numeric(count)
      theta[free] <- found
      value <- reml_parts(found, w, gk[free])$value
      if (value > best$value + 1e-11) best <- list(value = value, theta = theta, free = free)
    }
  }
  at <- reml_parts(best$theta, w, gk)
  stopifnot(all(at$gradient[!best$free] <= 0))  # Kuhn-Tucker: the likelihood falls where a component leaves zero
  best$gradient <- max(abs((at$gradient * best$theta)[best$free]))
  best$newton_step <- max(abs(solve(at$hessian[best$free, best$free, drop = FALSE], at$gradient[best$free])
                              / best$theta[best$free]))
  best
}

# --- Kenward-Roger ----------------------------------------------------------------------------------------------------

# pbkrtest's own formulae for any covariance sum theta_k G_k (all G with the residual last, as pbkrtest orders them).
kenward_roger <- function(y, x, g, theta, contrasts) {
  sigma <- Reduce(`+`, Map(`*`, theta, g))
  solved <- solve(sigma, x)
  phi <- solve(crossprod(x, solved))
  beta <- drop(phi %*% crossprod(solved, y))
  sparse <- lapply(g, function(a) forceSymmetric(Matrix(a, sparse = TRUE)))
  parts <- list(Sigma = Matrix(sigma, sparse = TRUE), G = sparse, n.ggamma = length(g))
  phi <- forceSymmetric(Matrix(phi, sparse = FALSE))
  adjusted <- pbkrtest:::vcovAdj_internal(phi, parts, x)
  read_contrasts(beta, phi, adjusted, contrasts)
}

read_contrasts <- function(beta, phi, adjusted, contrasts) {
  stopifnot(attr(adjusted, "condi") > 1e-9)  # else pbkrtest takes a generalised inverse
  rows <- lapply(seq_len(nrow(contrasts)), function(i) {
    l <- contrasts[i, ]
    se <- sqrt(drop(l %*% as.matrix(adjusted) %*% l))
    df <- Lb_ddf(l, phi, adjusted)
    gain <- sum(l * beta)
    half <- qt(0.975, df) * se
    list(gain = gain, se = se, df = df, low = gain - half, high = gain + half, p = 2 * pt(-abs(gain / se), df))
  })
  v <- contrasts %*% as.matrix(adjusted) %*% t(contrasts)
  list(rows = rows, correlation = cov2cor(v))
}

# df and SE written out from Kenward & Roger (1997), as a second route to check pbkrtest's figures against. The optional
# `study_df` adds df/(2 theta^2) to the information of each component.
kenward_roger_by_hand <- function(x, g, theta, l, study_df = rep(0, length(theta))) {
  v <- Reduce(`+`, Map(`*`, theta, g))
  vi <- solve(v)
  phi <- solve(t(x) %*% vi %*% x)
  p <- vi - vi %*% x %*% phi %*% t(x) %*% vi
  k <- length(g)
  information <- matrix(0, k, k)
  for (i in seq_len(k)) for (j in seq_len(k)) information[i, j] <- 0.5 * sum((p %*% g[[i]]) * t(p %*% g[[j]]))
  diag(information) <- diag(information) + ifelse(study_df > 0, study_df / (2 * theta^2), 0)
  w <- solve(information)
  b <- vi %*% x %*% phi %*% l
  slope <- sapply(g, function(a) sum(b * (a %*% b)))
  extra <- 0
  for (i in seq_len(k)) for (j in seq_len(k)) extra <- extra + w[i, j] * sum((g[[i]] %*% b) * (p %*% (g[[j]] %*% b)))
  variance <- sum(b * (v %*% b))
  list(se = sqrt(variance + 2 * extra), df = 2 * variance^2 / drop(slope %*% w %*% slope))
}

relative <- function(a, b) max(abs(a - b) / abs(b))
