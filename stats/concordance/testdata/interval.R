# Writes interval.json: the mean of the blocks' shares weighted by their pairs, with the
# standard error CR2 for variances inverse to the weights and Satterthwaite's degrees of
# freedom by clubSandwich, and limits on the scale asin(sqrt(share)) by R's qt.
# Run in this folder: Rscript interval.R
suppressPackageStartupMessages({library(clubSandwich); library(jsonlite)})
sets <- list(
  unequal = list(concordant = c(12, 3, 20, 7, 1, 9), discordant = c(5, 4, 11, 2, 0, 9), tied = c(0, 1, 2, 1, 2, 0)),
  two = list(concordant = c(30, 4), discordant = c(10, 3), tied = c(0, 0)),
  equal = list(concordant = c(5, 8, 9, 3), discordant = c(5, 2, 1, 7), tied = c(0, 0, 0, 0)),
  one_large = list(concordant = c(300, 2, 1, 4, 3), discordant = c(210, 2, 2, 1, 3), tied = c(9, 0, 1, 1, 0)),
  near_one = list(concordant = c(9, 10, 10, 8, 10), discordant = c(1, 0, 0, 2, 0), tied = c(0, 0, 0, 0, 0)))
out <- lapply(sets, function(s) {
  pairs <- s$concordant + s$discordant + s$tied
  share <- (s$concordant + s$tied / 2) / pairs
  block <- seq_along(pairs)
  m <- lm(share ~ 1, weights = pairs)
  ct <- coef_test(m, vcov = vcovCR(m, cluster = block, type = "CR2", inverse_var = TRUE), test = "Satterthwaite")
  e <- unname(coef(m)); se <- ct$SE; df <- ct$df_Satt
  half <- qt(0.975, df) * se / (2 * sqrt(e * (1 - e)))
  limit <- function(a) sin(min(pi / 2, max(0, a)))^2
  c(lapply(s, I), list(result = list(estimate = e, se = se, df = df, low = limit(asin(sqrt(e)) - half), high = limit(asin(sqrt(e)) + half))))
})
write_json(list(source = paste0("interval.R: ", R.version.string, ", clubSandwich ", packageVersion("clubSandwich"),
  "; lm(share ~ 1, weights = pairs), vcovCR(type = 'CR2', inverse_var = TRUE), coef_test(test = 'Satterthwaite')"),
  sets = out), "interval.json", digits = NA, auto_unbox = TRUE, pretty = FALSE)
