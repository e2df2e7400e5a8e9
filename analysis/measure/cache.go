package measure

type lookCache struct{}
