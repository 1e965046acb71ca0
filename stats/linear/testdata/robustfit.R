# Writes robustfit.json: Huber's M-estimation by MASS::rlm run to convergence,
# hubers() for location and scale, and pairwise slopes by brute force. Run in this
# folder: Rscript robustfit.R
suppressPackageStartupMessages({library(MASS); library(jsonlite)})
fit <- function(formula, data, ...) {
  m <- rlm(formula, data, maxit = 5000, acc = 1e-13, ...)
  s <- summary(m)
  list(coef = unname(coef(m)), scale = m$s, se = unname(s$coefficients[, 2]), stddev = s$stddev, weights = unname(m$w), converged = m$converged)
}
pairs <- function(x, y) {
  i <- combn(length(x), 2)
  dx <- x[i[2, ]] - x[i[1, ]]
  s <- ((y[i[2, ]] - y[i[1, ]]) / dx)[dx != 0]
  list(x = x, y = y, slopes = length(s), slope = median(s), intercept = median(y - median(s) * x))
}
mt <- read.csv("mtcars.csv")
sl <- read.csv("stackloss.csv")
h <- hubers(chem, k = 1.5, tol = 1e-14)
out <- list(
  source = paste0("robustfit.R: ", R.version.string, ", MASS ", packageVersion("MASS"),
                  "; rlm(maxit = 5000, acc = 1e-13) with psi.huber, k, scale.est as named; hubers(chem, k = 1.5, tol = 1e-14); combn"),
  fits = list(
    stackloss_mad_1.345 = fit(stack.loss ~ ., sl, scale.est = "MAD"),
    stackloss_mad_1.5 = fit(stack.loss ~ ., sl, scale.est = "MAD", k = 1.5),
    stackloss_proposal2 = fit(stack.loss ~ ., sl, scale.est = "proposal 2"),
    mtcars_mad = fit(mpg ~ wt + hp, mt, scale.est = "MAD"),
    mtcars_proposal2_k2 = fit(mpg ~ wt + hp, mt, scale.est = "proposal 2", k2 = 1.2),
    mtcars_absorbed = fit(mpg ~ wt + hp + factor(cyl), mt, scale.est = "MAD")),
  hubers = list(x = chem, mu = h$mu, s = h$s),
  pairs = list(stackloss = pairs(sl$Air.Flow, sl$stack.loss), cars = pairs(cars$speed, cars$dist),
               mtcars = pairs(mt$wt, mt$mpg), seven = pairs(c(1, 2, 3, 4, 10, 12, 18), c(9, 15, 19, 20, 45, 55, 78))))
write_json(out, "robustfit.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)
