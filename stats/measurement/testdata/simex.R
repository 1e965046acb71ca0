# Writes simex.csv (invented data: an observed column, a response, a covariate and a
# session), deviates.csv (standard normal, a replicate a row) and simex.json: SIMEX by
# the formulas of Cook and Stefanski (1994) and Stefanski and Cook (1995) with lm, for a
# line and a quadratic, and regression calibration. Run in this folder: Rscript simex.R
suppressPackageStartupMessages(library(jsonlite))
set.seed(20261125)
n <- 48; session <- rep(1:8, each = 6); B <- 20
x <- round(rnorm(n, rep(rnorm(8, 0, 0.5), each = 6), 1), 4)
sd <- round(runif(n, 0.3, 0.6), 3)
w <- round(x + rnorm(n, 0, sd), 4)
z <- round(rnorm(n) + 0.3 * x, 4)
y <- round(2 * x + 0.8 * x^2 + z + rep(rnorm(8, 0, 2), each = 6) + rnorm(n, 0, 1), 4)
write.csv(data.frame(w, sd, y, z, session), "simex.csv", row.names = FALSE, quote = FALSE)
dev <- round(matrix(rnorm(n * B), B), 6)
write.table(dev, "deviates.csv", sep = ",", row.names = FALSE, col.names = FALSE)
d <- read.csv("simex.csv"); dev <- as.matrix(read.csv("deviates.csv", header = FALSE))
lambdas <- c(0.5, 1, 1.5, 2); at <- mean(d$w)
fit <- function(w, degree) {
  v <- w - at
  m <- if (degree == 1) lm(y ~ v + z + factor(session), d) else lm(y ~ v + I(v^2) + z + factor(session), d)
  k <- 2:(1 + degree)
  list(b = unname(coef(m)[k]), v = unname(vcov(m)[k, k, drop = FALSE]))
}
quad <- function(y) { l <- c(0, lambdas); predict(lm(y ~ l + I(l^2)), data.frame(l = -1))[[1]] }
line <- function(y) { l <- c(0, lambdas); predict(lm(y ~ l), data.frame(l = -1))[[1]] }
rational <- function(y) {
  l <- c(0, lambdas)
  ss <- function(s) sum(lm(y ~ I(1 / (1 + exp(s) + l)))$residuals^2)
  grid <- seq(-6, 7, 0.25); g <- grid[which.min(sapply(grid, ss))]
  s <- optimize(ss, c(g - 0.25, g + 0.25), tol = 1e-12)$minimum
  co <- coef(lm(y ~ I(1 / (1 + exp(s) + l)))); unname(co[1] + co[2] / exp(s))
}
run <- function(degree) {
  naive <- fit(d$w, degree)
  path <- list(); var <- list(naive$v)
  means <- matrix(naive$b, 1)
  for (l in lambdas) {
    f <- lapply(seq_len(B), function(b) fit(d$w + sqrt(l) * d$sd * dev[b, ], degree))
    bs <- do.call(rbind, lapply(f, `[[`, "b"))
    means <- rbind(means, colMeans(bs))
    var[[length(var) + 1]] <- Reduce(`+`, lapply(f, `[[`, "v")) / B - cov(bs)
  }
  cv <- matrix(0, degree, degree)
  for (i in 1:degree) for (j in 1:degree) cv[i, j] <- quad(sapply(var, function(m) m[i, j]))
  list(naive = naive$b, path = means, quadratic = apply(means, 2, quad), linear = apply(means, 2, line), rational = apply(means, 2, rational), covariance = cv)
}
m <- lm(w ~ z + factor(session), d); h <- hatvalues(m); e <- resid(m)
s2 <- (sum(e^2) - sum((1 - h) * d$sd^2)) / sum(1 - h)
share <- s2 / (s2 + d$sd^2); star <- d$w - (1 - share) * e
v <- star - at; v2 <- v^2 + share * d$sd^2
cal <- lm(y ~ v + v2 + z + factor(session), d)
out <- list(source = paste0("simex.R: ", R.version.string, "; lm with the sessions written out, deviates in deviates.csv"),
  line = run(1), quadratic = run(2),
  calibration = list(true_variance = s2, reliability = s2 / (s2 + mean(d$sd^2)), values = unname(star), variances = share * d$sd^2, b = unname(coef(cal)[2:3])))
write_json(out, "simex.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)
