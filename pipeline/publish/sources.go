package publish

// source is a publication a method rests on.
type source struct{ For, Citation string }

// sources are the methods of the page. Volumes and pages are from memory
// except for Bland and Altman, which was seen.
func sources() []source {
	return []source{
		{"Standard errors by session (CR2)", "Bell RM, McCaffrey DF (2002). Bias reduction in standard errors for linear regression with multi-stage samples. Survey Methodology 28, 169\u2013181."},
		{"Their degrees of freedom with absorbed sessions", "Pustejovsky JE, Tipton E (2018). Small-sample methods for cluster-robust variance estimation and hypothesis testing in fixed effects models. Journal of Business and Economic Statistics 36, 672\u2013683."},
		{"Many swimmers tested at once (q)", "Benjamini Y, Hochberg Y (1995). Controlling the false discovery rate. Journal of the Royal Statistical Society B 57, 289\u2013300."},
		{"Practically none", "Schuirmann DJ (1987). A comparison of the two one-sided tests procedure and the power approach. Journal of Pharmacokinetics and Biopharmaceutics 15, 657\u2013680."},
		{"Interval of the squad\u2019s average", "Tipton E (2015). Small sample adjustments for robust variance estimation with meta-regression. Psychological Methods 20, 375\u2013393."},
		{"Prediction interval", "Higgins JPT, Thompson SG, Spiegelhalter DJ (2009). A re-evaluation of random-effects meta-analysis. Journal of the Royal Statistical Society A 172, 137\u2013159."},
		{"Correlation within swimmers", "Bland JM, Altman DG (1995). Calculating correlation coefficients with repeated observations: part 1, correlation within subjects. BMJ 310, 446."},
		{"What something unseen would need", "Cinelli C, Hazlett C (2020). Making sense of sensitivity: extending omitted variable bias. Journal of the Royal Statistical Society B 82, 39\u201367."},
		{"Heart-rate reserve", "Karvonen MJ, Kentala E, Mustala O (1957). The effects of training on heart rate: a longitudinal study. Annales Medicinae Experimentalis et Biologiae Fenniae 35, 307\u2013315."},
	}
}
