# Writes unbalanced.csv (invented data) and unbalanced.json: variance components
# by REML of subjects measured unequally often, with and without an effect of
# the trial. Run in this folder: Rscript unbalanced.R
suppressPackageStartupMessages({library(lme4); library(jsonlite)})
set.seed(20261125)
d <- expand.grid(subject = 1:12, trial = 1:5)
d <- d[runif(nrow(d)) < 0.7, ]
d <- d[order(d$subject, d$trial), ]
d$value <- round(150 + rnorm(12, 0, 5)[d$subject] + c(0, 2, 3, 3.5, 1)[d$trial] + rnorm(nrow(d), 0, 3), 2)
write.csv(d, "unbalanced.csv", row.names = FALSE, quote = FALSE)
d <- read.csv("unbalanced.csv")
control <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e6), calc.derivs = FALSE)
components <- function(m) {
  v <- as.data.frame(VarCorr(m))
  list(variance = setNames(as.list(v$vcov), v$grp), mean = unname(fixef(m)[1]),
       mean_se = unname(sqrt(vcov(m)[1, 1])), deviance = unname(REMLcrit(m)))
}
flat <- transform(d, value = round(value - ave(value, subject) + 150 + c(-0.1, 0.1)[1 + subject %% 2], 2))
out <- list(
  source = paste0("unbalanced.R: ", R.version.string, ", lme4 ", packageVersion("lme4"),
                  "; lmer(value ~ 1 + (1 | subject)) and lmer(value ~ 1 + (1 | subject) + (1 | trial)), REML, bobyqa to 1e-12"),
  one_way = components(lmer(value ~ 1 + (1 | subject), d, control = control)),
  two_way = components(lmer(value ~ 1 + (1 | subject) + (1 | trial), d, control = control)),
  # Subjects that hardly differ: a variance at zero.
  zero = c(list(value = flat$value), suppressMessages(components(lmer(value ~ 1 + (1 | subject), flat, control = control)))))
write_json(out, "unbalanced.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)
