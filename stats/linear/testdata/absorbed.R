# Writes absorbed.csv (invented data) and absorbed.json (reference values) for
# the tests of absorbed groups, weights, crossed groups and singular blocks.
# Run in this folder: Rscript absorbed.R
# Needs R, clubSandwich, sandwich, jsonlite; versions go into the output.
suppressPackageStartupMessages({library(clubSandwich); library(sandwich); library(jsonlite)})

set.seed(20261125)
sizes <- c(4, 6, 7, 9, 5, 12, 8, 3, 10, 6, 7, 11)
session <- rep(seq_along(sizes), sizes)
n <- length(session)
half <- session * 2 + unlist(lapply(sizes, function(m) as.integer(seq_len(m) > m / 2)))
block <- sample(1:5, n, replace = TRUE)
level <- rnorm(length(sizes), 140, 6)[session]
x <- round(rnorm(n, level / 400, 0.06), 6)
z <- round(rnorm(n) + 0.5 * x, 6)
t <- round(unlist(lapply(sizes, function(m) cumsum(runif(m, 1, 4)))), 6)
solo <- ifelse(session == 6, round(rnorm(n), 6), 0)
w <- round(runif(n, 0.5, 4), 3)
y <- round(level + 30 * x + 1.5 * z + 2 * log1p(t) + rnorm(n, 0, 3 / sqrt(w)), 6)
d <- data.frame(y, x, z, t, solo, w, session, half, block)
write.csv(d, "absorbed.csv", row.names = FALSE, quote = FALSE)
d <- read.csv("absorbed.csv")

# Reference values of the named terms of a model with indicators written out.
reference <- function(m, terms) {
  v <- list(estimate = unname(coef(m)[terms]), sigma = summary(m)$sigma,
            r2 = summary(m)$r.squared, df = m$df.residual,
            classical = unname(vcov(m)[terms, terms]))
  # With a row of leverage one (a group of one) HC2 and HC3 are 0/0 here.
  kinds <- if (max(hatvalues(m)) > 1 - 1e-8) c("HC0", "HC1") else c("HC0", "HC1", "HC2", "HC3")
  v$hc <- lapply(setNames(nm = kinds),
                 function(k) unname(vcovHC(m, type = k)[terms, terms]))
  # CR on the same fit with rows multiplied by the roots of the weights, where
  # the working model is independence with one variance.
  root <- if (is.null(weights(m))) rep(1, nobs(m)) else sqrt(weights(m))
  white <- with(list(Y = root * d$y, X = root * model.matrix(m)), lm(Y ~ 0 + X))
  v$cr <- lapply(setNames(nm = c("CR0", "CR1", "CR2")), function(k) {
    V <- vcovCR(white, cluster = d$session, type = k)
    ct <- coef_test(white, vcov = V, test = "Satterthwaite")
    i <- match(terms, names(coef(m)))
    list(vcov = unname(as.matrix(V)[i, i]), df = ct$df_Satt[i], p = ct$p_Satt[i])
  })
  v
}
f <- function(g, extra = "") as.formula(paste0("y ~ x + z + log1p(t)", extra, " + factor(", g, ")"))
terms <- c("x", "z", "log1p(t)")
out <- list(
  source = paste0("absorbed.R: ", R.version.string, ", clubSandwich ", packageVersion("clubSandwich"),
                  ", sandwich ", packageVersion("sandwich"),
                  "; lm with factor() written out; for CR rows multiplied by root weights first, vcovHC, vcovCR(cluster = session), coef_test(test = 'Satterthwaite')"),
  sets = list(
    same     = reference(lm(f("session"), d), terms),
    nested   = reference(lm(f("half"), d), terms),
    crossed  = reference(lm(f("block"), d), terms),
    singular = reference(lm(f("session", " + solo"), d), terms),
    weighted = reference(lm(f("session"), d, weights = w), terms),
    weighted_crossed = reference(lm(f("block"), d, weights = w), terms)))
write_json(out, "absorbed.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)
